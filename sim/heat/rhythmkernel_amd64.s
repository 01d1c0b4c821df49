#include "textflag.h"
#include "go_asm.h"
#include "calmkernel_amd64.h"

// func spanJoin(s, first, then *calmSpan, d float64)
TEXT ·spanJoin(SB), NOSPLIT, $0-32
	ENABLED(plain)
	MOVQ         s+0(FP), DI
	MOVQ         first+8(FP), SI
	MOVQ         then+16(FP), DX
	VBROADCASTSD d+24(FP), Y0
	MOVQ         $const_calmNodes, CX

mode:
	// decay = decay then.decay, one = one + decay then.one
	VMOVUPD calmSpan_decay(SI), Y1
	VMULPD  calmSpan_decay(DX), Y1, Y2
	VMOVUPD Y2, calmSpan_decay(DI)
	VMOVUPD calmSpan_one(SI), Y3
	VMULPD  calmSpan_one(DX), Y1, Y2
	VADDPD  Y2, Y3, Y2
	VMOVUPD Y2, calmSpan_one(DI)

	// two = two + one d + decay then.two
	VMULPD  Y0, Y3, Y3
	VADDPD  calmSpan_two(SI), Y3, Y3
	VMULPD  calmSpan_two(DX), Y1, Y1
	VADDPD  Y1, Y3, Y3
	VMOVUPD Y3, calmSpan_two(DI)
	ADDQ    $LANE, SI
	ADDQ    $LANE, DX
	ADDQ    $LANE, DI
	DECQ    CX
	JGT     mode
	VZEROUPPER
	RET

plain:
	JMP ·spanJoinPlain(SB)

// BEATS is how many a pace lasts, in all lanes.
#define BEATS(pace, low, all) \
	VCVTSI2SDQ   Pace_Beats(pace), low, low; \
	VBROADCASTSD low, all

// func rhythmTotals(lanes *calmLanes, p *rhythm, s *calmSums, paces []Pace) (together int)
TEXT ·rhythmTotals(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ   lanes+0(FP), DI
	MOVQ   p+8(FP), SI
	MOVQ   s+16(FP), DX
	MOVQ   paces_base+24(FP), R8
	MOVQ   paces_len+32(FP), CX
	VXORPD Y0, Y0, Y0 // energy
	VXORPD Y1, Y1, Y1 // linkEnergy
	VXORPD Y2, Y2, Y2 // zero
	VXORPD Y3, Y3, Y3 // apart
	MOVQ   R8, R9
	MOVQ   CX, BX
	JMP    more

energies:
	BEATS(R9, X4, Y4)
	PLUS(Pace_Element(R9), Y4, Y5, Y0)
	PLUS(Pace_Link(R9), Y4, Y5, Y1)
	ADDQ $Pace__size, R9

more:
	DECQ BX
	JGE  energies
	VBROADCASTSD calmLanes_beat(DI), Y7
	VMULPD       Y7, Y0, Y0
	VMULPD       Y7, Y1, Y1
	VMOVUPD      Y0, rhythm_energy(SI)
	VMOVUPD      Y1, rhythm_linkEnergy(SI)

	// share = linkEnergy/energy, weight = 1/energy, or 0
	VCMPPD       $ABOVE, Y2, Y0, Y4
	VDIVPD       Y0, Y1, Y1
	VANDPD       Y4, Y1, Y1
	VBROADCASTSD ·laneOne(SB), Y5
	VDIVPD       Y0, Y5, Y5
	VANDPD       Y4, Y5, Y5
	VMOVUPD      Y1, calmSums_share(DX)
	VMOVUPD      Y5, calmSums_weight(DX)

	// apart = Σ |L − share P| n
	VBROADCASTSD ·laneMagnitude(SB), Y6
	JMP          next

shares:
	VMULPD  Pace_Element(R8), Y1, Y4
	VMOVUPD Pace_Link(R8), Y5
	VSUBPD  Y4, Y5, Y4
	VANDPD  Y6, Y4, Y4
	BEATS(R8, X5, Y5)
	VMULPD  Y5, Y4, Y4
	VADDPD  Y4, Y3, Y3
	ADDQ    $Pace__size, R8

next:
	DECQ CX
	JGE  shares

	// apart beat/C_l ≤ calmSame
	VMULPD       Y7, Y3, Y3
	VMULPD       LINK(calmLanes_inverse)(DI), Y3, Y3
	VBROADCASTSD ·laneSame(SB), Y4
	VCMPPD       $ATMOST, Y4, Y3, Y3
	VMOVMSKPD    Y3, AX
	MOVQ         AX, together+48(FP)
	VZEROUPPER
	RET

plain:
	JMP ·rhythmTotalsPlain(SB)

DATA ·laneMagnitude+0(SB)/8, $0x7fffffffffffffff
GLOBL ·laneMagnitude(SB), RODATA, $8

// RESPOND is what a pace of power P does to the mode whose lanes are at DX + at in the
// responses to no time, those to the pace being R10 and those to its start R11 further.
#define RESPOND(at, heat, total, self, kept, driven) \
	VMOVUPD (calmSpan_one+at)(DX)(R10*1), Y11;        \
	VMULPD  Y11, Y10, Y12;                            \ // P one
	VMULPD  (calmSpan_two+at)(DX)(R10*1), Y10, Y13;   \ // P two
	VMULPD  (calmSpan_one+at)(DX)(R11*1), Y12, Y14;   \
	VADDPD  Y13, Y14, Y14;                            \
	VADDPD  Y14, driven, driven;                      \
	VMULPD  (calmSpan_decay+at)(DX)(R11*1), Y12, Y14; \
	VADDPD  Y14, kept, kept;                          \
	VMULPD  Y11, heat, Y11;                           \ // stage
	VADDPD  Y13, Y11, Y11;                            \
	VADDPD  Y11, total, total;                        \
	VMULPD  Y10, Y11, Y11;                            \
	VADDPD  Y11, self, self;                          \
	VMULPD  (calmSpan_decay+at)(DX)(R10*1), heat, heat; \
	VADDPD  Y12, heat, heat

// BEGIN clears what RESPOND adds to, and END puts it where it belongs.
#define BEGIN(heat, total, self, kept, driven) \
	VXORPD heat, heat, heat;    \
	VXORPD total, total, total; \
	VXORPD self, self, self;    \
	VXORPD kept, kept, kept;    \
	VXORPD driven, driven, driven

#define END(at, heat, total, self, kept, driven) \
	VMOVUPD heat, (calmSums_heats+at)(DI);   \
	VMOVUPD total, (calmSums_totals+at)(DI); \
	VMOVUPD self, (calmSums_selves+at)(DI);  \
	VMOVUPD kept, (calmSums_keeps+at)(DI);   \
	VMOVUPD driven, (calmSums_drives+at)(DI)

// PACE finds P and where the responses to a pace are.
#define PACE \
	IMUL3Q  $calmSpan__size, Pace_Beats(R9), R10; \
	VMOVUPD Pace_Element(R9), Y10

// NEXT goes to the next pace.
#define NEXT \
	ADDQ R10, R11; \
	ADDQ $Pace__size, R9

// func rhythmRespond(s *calmSums, paces []Pace, spans []calmSpan)
//
// Two modes at a time, and the last one alone.
TEXT ·rhythmRespond(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ s+0(FP), DI
	MOVQ paces_base+8(FP), SI
	MOVQ spans_base+32(FP), DX
	MOVQ $(const_calmNodes/2), R8

modes:
	MOVQ paces_len+16(FP), CX
	MOVQ SI, R9
	XORQ R11, R11
	BEGIN(Y0, Y1, Y2, Y3, Y4)
	BEGIN(Y5, Y6, Y7, Y8, Y9)
	JMP  more

pace:
	PACE
	RESPOND(0, Y0, Y1, Y2, Y3, Y4)
	RESPOND(LANE, Y5, Y6, Y7, Y8, Y9)
	NEXT

more:
	DECQ CX
	JGE  pace
	END(0, Y0, Y1, Y2, Y3, Y4)
	END(LANE, Y5, Y6, Y7, Y8, Y9)
	ADDQ $(2*LANE), DI
	ADDQ $(2*LANE), DX
	DECQ R8
	JGT  modes

	MOVQ paces_len+16(FP), CX
	MOVQ SI, R9
	XORQ R11, R11
	BEGIN(Y0, Y1, Y2, Y3, Y4)
	JMP  last

one:
	PACE
	RESPOND(0, Y0, Y1, Y2, Y3, Y4)
	NEXT

last:
	DECQ CX
	JGE  one
	END(0, Y0, Y1, Y2, Y3, Y4)
	VZEROUPPER
	RET

plain:
	JMP ·rhythmRespondPlain(SB)

#define OFELEMENT(k) calmLanes_byElement+(k)*FIVE
#define OFLINK(k) calmLanes_byLink+(k)*FIVE

// HEATED is what heat does to node k: element = byElement·heats, link = share (byLink·heats).
#define HEATED(k) \
	DOT(OFELEMENT(k), Y9, Y7, Y8);         \
	VMOVUPD Y8, OF(rhythm_element, k)(SI); \
	DOT(OFLINK(k), Y9, Y7, Y8);            \
	VMULPD  Y5, Y8, Y8;                    \
	VMOVUPD Y8, OF(rhythm_link, k)(SI)

// KEPT is what a mean keeps of node k: (byElement·keeps) C weight.
#define KEPT(k) \
	DOT(OFELEMENT(k), Y9, Y7, Y8);                 \
	VMULPD  OF(calmLanes_capacity, k)(DI), Y8, Y8; \
	VMULPD  Y6, Y8, Y8;                            \
	VMOVUPD Y8, OF(rhythm_mean+linears_x, k)(SI)

// MEANT is an input's part of a mean, times a factor.
#define MEANT(input, times, to) \
	DOT(input, Y9, Y7, Y8); \
	VMULPD  times, Y8, Y8;  \
	VMOVUPD Y8, (to)(SI)

// func rhythmGather(lanes *calmLanes, p *rhythm, s *calmSums)
TEXT ·rhythmGather(SB), NOSPLIT, $0-24
	ENABLED(plain)
	MOVQ    lanes+0(FP), DI
	MOVQ    p+8(FP), SI
	MOVQ    s+16(FP), DX
	VMOVUPD calmSums_share(DX), Y5
	VMOVUPD calmSums_weight(DX), Y6

	LOAD5(calmSums_heats, DX)
	HEATED(0)
	HEATED(1)
	HEATED(2)
	HEATED(3)
	HEATED(4)

	LOAD5(calmSums_keeps, DX)
	KEPT(0)
	KEPT(1)
	KEPT(2)
	KEPT(3)
	KEPT(4)

	// 1 where there is no energy
	VXORPD       Y7, Y7, Y7
	VCMPPD       $EQUAL, rhythm_energy(SI), Y7, Y7
	VBROADCASTSD ·laneOne(SB), Y8
	VMOVUPD      ELEMENT(rhythm_mean+linears_x)(SI), Y9
	VBLENDVPD    Y7, Y8, Y9, Y8
	VMOVUPD      Y8, ELEMENT(rhythm_mean+linears_x)(SI)

	LOAD5(calmSums_drives, DX)
	MEANT(OFELEMENT(const_shellNode), Y6, rhythm_mean+linears_shell)
	MEANT(OFELEMENT(const_waterNode), Y6, rhythm_mean+linears_draw)
	LOAD5(calmSums_selves, DX)
	MEANT(OFELEMENT(const_elementNode), Y6, rhythm_self)

	// water = byElement_w·totals/dt, waterLink = share (byLink_w·totals)/dt
	LOAD5(calmSums_totals, DX)
	VBROADCASTSD calmLanes_dt(DI), Y6
	VBROADCASTSD ·laneOne(SB), Y7
	VDIVPD       Y6, Y7, Y6
	MEANT(OFELEMENT(const_waterNode), Y6, rhythm_water)
	DOT(OFLINK(const_waterNode), Y9, Y7, Y8)
	VMULPD       Y6, Y8, Y8
	VMULPD       Y5, Y8, Y8
	VMOVUPD      Y8, rhythm_waterLink(SI)
	VZEROUPPER
	RET

plain:
	JMP ·rhythmGatherPlain(SB)
