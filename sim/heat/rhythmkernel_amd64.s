#include "textflag.h"
#include "go_asm.h"
#include "calmkernel_amd64.h"

// func rhythmTotals(lanes *calmLanes, p *rhythm, s *calmSums, steps []calmStep) (together int)
TEXT ·rhythmTotals(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ   lanes+0(FP), DI
	MOVQ   p+8(FP), SI
	MOVQ   s+16(FP), DX
	MOVQ   steps_base+24(FP), R8
	MOVQ   steps_len+32(FP), CX
	VXORPD Y0, Y0, Y0 // energy
	VXORPD Y1, Y1, Y1 // linkEnergy
	VXORPD Y2, Y2, Y2 // zero
	VXORPD Y3, Y3, Y3 // apart
	MOVQ   R8, R9
	MOVQ   CX, BX
	JMP    more

energies:
	VBROADCASTSD calmStep_duration(R9), Y4
	PLUS(calmStep_element(R9), Y4, Y5, Y0)
	PLUS(calmStep_link(R9), Y4, Y5, Y1)
	ADDQ         $calmStep__size, R9

more:
	DECQ BX
	JGE  energies
	VMOVUPD Y0, rhythm_energy(SI)
	VMOVUPD Y1, rhythm_linkEnergy(SI)

	// share = linkEnergy/energy, weight = 1/energy, or 0
	VCMPPD       $ABOVE, Y2, Y0, Y4
	VDIVPD       Y0, Y1, Y1
	VANDPD       Y4, Y1, Y1
	VBROADCASTSD ·laneOne(SB), Y5
	VDIVPD       Y0, Y5, Y5
	VANDPD       Y4, Y5, Y5
	VMOVUPD      Y1, calmSums_share(DX)
	VMOVUPD      Y5, calmSums_weight(DX)

	// apart = Σ |L − share P| d
	VBROADCASTSD ·laneMagnitude(SB), Y6
	JMP          next

shares:
	VMULPD       calmStep_element(R8), Y1, Y4
	VMOVUPD      calmStep_link(R8), Y5
	VSUBPD       Y4, Y5, Y4
	VANDPD       Y6, Y4, Y4
	VBROADCASTSD calmStep_duration(R8), Y5
	VMULPD       Y5, Y4, Y4
	VADDPD       Y4, Y3, Y3
	ADDQ         $calmStep__size, R8

next:
	DECQ CX
	JGE  shares

	// apart/C_l ≤ calmSame
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

// func rhythmRespond(s *calmSums, steps []calmStep, spans []calmSpan)
//
// Mode by mode, R8 being where its lanes are in a five.
TEXT ·rhythmRespond(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ s+0(FP), DI
	MOVQ steps_base+8(FP), SI
	MOVQ spans_base+32(FP), DX
	XORQ R8, R8

mode:
	MOVQ         steps_len+16(FP), CX
	MOVQ         SI, R9
	VXORPD       Y0, Y0, Y0     // heat
	VXORPD       Y1, Y1, Y1     // total
	VXORPD       Y2, Y2, Y2     // self
	VXORPD       Y3, Y3, Y3     // kept
	VXORPD       Y4, Y4, Y4     // driven
	VXORPD       Y5, Y5, Y5     // before
	VBROADCASTSD ·laneOne(SB), Y6  // passed
	JMP          more

step:
	MOVQ    calmStep_at(R9), R10
	IMULQ   $calmSpan__size, R10
	ADDQ    DX, R10
	ADDQ    R8, R10
	VMOVUPD calmStep_element(R9), Y9 // P
	VMOVUPD calmSpan_one(R10), Y7
	VMOVUPD calmSpan_two(R10), Y8

	// driven += P (two + one before)
	VMULPD Y7, Y5, Y10
	VADDPD Y8, Y10, Y10
	VMULPD Y9, Y10, Y10
	VADDPD Y10, Y4, Y4

	// stage = heat one + P two
	VMULPD Y7, Y0, Y10
	VMULPD Y8, Y9, Y11
	VADDPD Y11, Y10, Y10
	VADDPD Y10, Y1, Y1
	VMULPD Y9, Y10, Y10
	VADDPD Y10, Y2, Y2

	// heat = heat decay + P one
	VMOVUPD calmSpan_decay(R10), Y11
	VMULPD  Y11, Y0, Y0
	VMULPD  Y7, Y9, Y10
	VADDPD  Y10, Y0, Y0

	// kept += P passed one, before += passed one, passed = passed decay
	VMULPD Y7, Y6, Y10
	VADDPD Y10, Y5, Y5
	VMULPD Y9, Y10, Y10
	VADDPD Y10, Y3, Y3
	VMULPD Y11, Y6, Y6
	ADDQ   $calmStep__size, R9

more:
	DECQ    CX
	JGE     step
	VMOVUPD Y0, calmSums_heats(DI)(R8*1)
	VMOVUPD Y1, calmSums_totals(DI)(R8*1)
	VMOVUPD Y3, calmSums_keeps(DI)(R8*1)
	VMOVUPD Y4, calmSums_drives(DI)(R8*1)
	VMOVUPD Y2, calmSums_selves(DI)(R8*1)
	ADDQ    $LANE, R8
	CMPQ    R8, $FIVE
	JLT     mode
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
