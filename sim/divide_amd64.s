#include "go_asm.h"
#include "textflag.h"

#define LANE const_lanesSize
#define ROW(ledger, i) ((i)*LANE)(ledger)

// Comparisons, quiet.
#define ABOVE 0x1e
#define ATLEAST 0x1d
#define NOTEQ 0x04

// TIMES is lane i of a ledger that is one and so many times another.
#define TIMES(i) \
	VMULPD  ROW(DX, i), Y0, Y1; \
	VADDPD  ROW(SI, i), Y1, Y1; \
	VMOVUPD Y1, ROW(R8, i)

// DIAGONAL is what each channel makes of its own energy, of what starts at a lane.
#define DIAGONAL(ledger, by, out) \
	VMOVUPD  ROW(ledger, by), out;            \
	VBLENDPD $2, ROW(ledger, by+1), out, out; \
	VBLENDPD $4, ROW(ledger, by+2), out, out; \
	VBLENDPD $8, ROW(ledger, by+3), out, out

// ENABLED goes to plain where the processor has no such registers.
#define ENABLED(plain) \
	CMPB ·wide(SB), $0; \
	JEQ  plain

// func fill(p *part, first, each *ledger, times, noise, rate float64)
TEXT ·fill(SB), NOSPLIT, $0-48
	ENABLED(plain)
	MOVQ         p+0(FP), DI
	MOVQ         first+8(FP), SI
	MOVQ         each+16(FP), DX
	VBROADCASTSD times+24(FP), Y0
	LEAQ         part_ledger(DI), R8
	MOVQ         $const_ledgerLanes, CX

four:
	TIMES(0)
	TIMES(1)
	TIMES(2)
	TIMES(3)
	ADDQ $(4*LANE), SI
	ADDQ $(4*LANE), DX
	ADDQ $(4*LANE), R8
	SUBQ $4, CX
	JGT  four

	// mixed = (x + slope)²/(4 x) where x > noise
	LEAQ         part_ledger(DI), R8
	VMOVUPD      ROW(R8, const_inElement), Y0
	DIAGONAL(R8, const_byElement, Y1)
	VADDPD       Y0, Y1, Y1
	VMULPD       Y1, Y1, Y1
	VADDPD       Y0, Y0, Y2
	VADDPD       Y2, Y2, Y2
	VDIVPD       Y2, Y1, Y1
	VBROADCASTSD noise+32(FP), Y2
	VCMPPD       $ABOVE, Y2, Y0, Y2
	VANDPD       Y2, Y1, Y1
	VMOVUPD      Y1, ROW(R8, const_ofMixed)

	// Powers; those of elements and links come first in a pace.
	VBROADCASTSD rate+40(FP), Y2
	VMULPD       ROW(R8, const_inTriac), Y2, Y1
	VMOVUPD      Y1, part_power(DI)
	VMULPD       Y0, Y2, Y1
	VMOVUPD      Y1, part_pace(DI)
	VMULPD       ROW(R8, const_inLink), Y2, Y1
	VMOVUPD      Y1, (part_pace+LANE)(DI)
	VZEROUPPER
	RET

plain:
	JMP ·fillPlain(SB)

// HALF is the size of half a ledger.
#define HALF (const_ledgerLanes/2*LANE)

// func sumParts(total *ledger, gain []heat.Lanes, parts []*part)
//
// Half a ledger at a time, in registers.
TEXT ·sumParts(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ total+0(FP), DI
	MOVQ parts_base+32(FP), SI
	MOVQ parts_len+40(FP), CX
	XORQ R8, R8

half:
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	VXORPD Y2, Y2, Y2
	VXORPD Y3, Y3, Y3
	VXORPD Y4, Y4, Y4
	VXORPD Y5, Y5, Y5
	VXORPD Y6, Y6, Y6
	VXORPD Y7, Y7, Y7
	VXORPD Y8, Y8, Y8
	VXORPD Y9, Y9, Y9
	VXORPD Y10, Y10, Y10
	VXORPD Y11, Y11, Y11
	XORQ   BX, BX
	JMP    more

part:
	MOVQ   (SI)(BX*8), R9
	ADDQ   R8, R9
	VADDPD ROW(R9, 0), Y0, Y0
	VADDPD ROW(R9, 1), Y1, Y1
	VADDPD ROW(R9, 2), Y2, Y2
	VADDPD ROW(R9, 3), Y3, Y3
	VADDPD ROW(R9, 4), Y4, Y4
	VADDPD ROW(R9, 5), Y5, Y5
	VADDPD ROW(R9, 6), Y6, Y6
	VADDPD ROW(R9, 7), Y7, Y7
	VADDPD ROW(R9, 8), Y8, Y8
	VADDPD ROW(R9, 9), Y9, Y9
	VADDPD ROW(R9, 10), Y10, Y10
	VADDPD ROW(R9, 11), Y11, Y11
	INCQ   BX

more:
	CMPQ    BX, CX
	JLT     part
	VMOVUPD Y0, ROW(DI, 0)
	VMOVUPD Y1, ROW(DI, 1)
	VMOVUPD Y2, ROW(DI, 2)
	VMOVUPD Y3, ROW(DI, 3)
	VMOVUPD Y4, ROW(DI, 4)
	VMOVUPD Y5, ROW(DI, 5)
	VMOVUPD Y6, ROW(DI, 6)
	VMOVUPD Y7, ROW(DI, 7)
	VMOVUPD Y8, ROW(DI, 8)
	VMOVUPD Y9, ROW(DI, 9)
	VMOVUPD Y10, ROW(DI, 10)
	VMOVUPD Y11, ROW(DI, 11)
	ADDQ    $HALF, DI
	ADDQ    $HALF, R8
	CMPQ    R8, $(2*HALF)
	JLT     half

	// Stage by stage.
	MOVQ gain_base+8(FP), DI
	MOVQ gain_len+16(FP), DX
	XORQ R8, R8
	JMP  next

stage:
	VXORPD Y0, Y0, Y0
	XORQ   BX, BX
	JMP    last

pass:
	// above = above·left + power·gain
	MOVQ    (SI)(BX*8), R9
	MOVQ    part_does(R9), R10
	MOVQ    kept_left(R10), R11
	MOVQ    kept_gain(R10), R10
	VMULPD  (R11)(R8*1), Y0, Y0
	VMOVUPD part_power(R9), Y1
	VMULPD  (R10)(R8*1), Y1, Y1
	VADDPD  Y1, Y0, Y0
	INCQ    BX

last:
	CMPQ    BX, CX
	JLT     pass
	VMOVUPD Y0, (DI)(R8*1)
	ADDQ    $LANE, R8

next:
	DECQ DX
	JGE  stage
	VZEROUPPER
	RET

plain:
	JMP ·sumPartsPlain(SB)

DATA numbers<>+0(SB)/8, $1.0
DATA numbers<>+8(SB)/8, $0.5
DATA numbers<>+16(SB)/8, $3.0
DATA numbers<>+24(SB)/8, $0x7ff0000000000000 // infinite
DATA numbers<>+32(SB)/8, $1e-3               // leastLess
GLOBL numbers<>(SB), RODATA|NOPTR, $40

// Names of registers that hold lanes throughout divide.
#define NOISE Y15
#define ONE   Y14
#define ZERO  Y13
#define LESS  Y12
#define TOTAL(i) ROW(SI, i)

// OTHERS is what channel j makes of the energies of others.
#define OTHERS(by, j, half, spare, to) \
	VMULPD   TOTAL(by+j), half, spare;         \
	VBLENDPD $(1<<j), ZERO, spare, spare;      \
	VMOVUPD  spare, (to+j*LANE)(DI)

// ALL is what channel j makes of what is shared.
#define ALL(j, half, spare) \
	VMULPD  TOTAL(const_byShared+j), half, spare; \
	VMOVUPD spare, (course_byShared+j*LANE)(DI)

// func divide(c *course, total *ledger, law *growth, noise float64) (pocket float64)
//
// As dividePlain; what only some lanes have is masked.
TEXT ·divide(SB), NOSPLIT, $0-40
	ENABLED(plain)
	MOVQ         c+0(FP), DI
	MOVQ         total+8(FP), SI
	MOVQ         law+16(FP), DX
	VBROADCASTSD noise+24(FP), NOISE
	VBROADCASTSD numbers<>+0(SB), ONE
	VXORPD       ZERO, ZERO, ZERO

	// Energies, and spent = element + wire + triac, minor = gate + snubber,
	// warmth = triac + minor.
	VMOVUPD TOTAL(const_inElement), Y0
	VMOVUPD Y0, course_element(DI)
	VMOVUPD TOTAL(const_inTriac), Y1
	VMOVUPD Y1, course_triac(DI)
	VMOVUPD TOTAL(const_inWire), Y2
	VMOVUPD Y2, course_wire(DI)
	VADDPD  Y2, Y0, Y2
	VADDPD  Y1, Y2, Y2
	VMOVUPD TOTAL(const_inGate), Y3
	VMOVUPD Y3, course_gate(DI)
	VADDPD  TOTAL(const_inSnubber), Y3, Y3
	VADDPD  Y3, Y1, Y4

	// rest = source − wiring − upstream − Σ spent, pocket = Σ warmth, minor = Σ minor
	VHADDPD      Y4, Y2, Y4
	VEXTRACTF128 $1, Y4, X5
	VADDPD       X5, X4, X4
	VMOVSD       (const_inShared*LANE+8*const_ofSource)(SI), X2
	VSUBSD       (const_inShared*LANE+8*const_ofWiring)(SI), X2, X2
	VSUBSD       (const_inShared*LANE+8*const_ofUpstream)(SI), X2, X2
	VSUBSD       X4, X2, X2
	VMOVSD       X2, course_rest(DI)
	VMOVHPD      X4, pocket+32(FP)
	VHADDPD      Y3, Y3, Y3
	VEXTRACTF128 $1, Y3, X4
	VADDSD       X4, X3, X3
	VMOVSD       X3, course_minor(DI)

	// Half-cycles.
	VCVTTPD2DQY TOTAL(const_ofDriven), X2
	VPMOVSXDQ   X2, Y2
	VMOVDQU     Y2, course_driven(DI)

	// What is shared, without the source.
	VBROADCASTSD numbers<>+8(SB), Y9
	VMOVUPD      TOTAL(const_inShared), Y2
	VBLENDPD     $(1<<const_ofSource), ZERO, Y2, Y2
	VMOVUPD      Y2, course_shared(DI)
	VCMPPD       $ABOVE, NOISE, Y2, Y3
	VDIVPD       Y2, Y9, Y4
	VANDPD       Y3, Y4, Y4
	ALL(0, Y4, Y5)
	ALL(1, Y4, Y5)
	ALL(2, Y4, Y5)
	ALL(3, Y4, Y5)

	// Of elements in Y2, 1/energy in Y3, their own slopes in Y4, z in Y5.
	VCMPPD $ABOVE, NOISE, Y0, Y2
	VDIVPD Y0, ONE, Y3
	DIAGONAL(SI, const_byElement, Y4)
	VMULPD Y3, Y4, Y5
	VADDPD ONE, Y5, Y5
	VMULPD Y9, Y5, Y5

	// mixed = 3 (mixed/energy − z²)⁺
	VMULPD       TOTAL(const_ofMixed), Y3, Y6
	VMULPD       Y5, Y5, Y7
	VSUBPD       Y7, Y6, Y6
	VMAXPD       ZERO, Y6, Y6
	VBROADCASTSD numbers<>+16(SB), Y7
	VMULPD       Y7, Y6, Y6
	VANDPD       Y2, Y6, Y6
	VMOVUPD      Y6, course_mixed(DI)

	// warm = warm/energy, early = 1 − warm T_j
	VMULPD  TOTAL(const_ofWarm), Y3, Y6
	VANDPD  Y2, Y6, Y6
	VMOVUPD Y6, course_warm(DI)
	VMULPD  growth_junction(DX), Y6, Y6
	VSUBPD  Y6, ONE, Y6
	VMOVUPD Y6, course_early(DI)

	// Of those that follow: base, rate, z and 1 − z.
	VCMPPD    $NOTEQ, ZERO, Y4, Y6
	VANDPD    Y2, Y6, Y6
	VBLENDVPD Y6, growth_base(DX), ONE, Y7
	VMOVUPD   Y7, course_base(DI)
	VANDPD    growth_rate(DX), Y6, Y7
	VMOVUPD   Y7, course_rate(DI)
	VANDPD    Y5, Y6, Y5
	VMOVUPD   Y5, course_z(DI)
	VSUBPD    Y5, ONE, LESS
	VMOVUPD   LESS, course_less(DI)

	VMULPD Y9, Y3, Y3
	VANDPD Y2, Y3, Y3
	OTHERS(const_byElement, 0, Y3, Y4, course_byElement)
	OTHERS(const_byElement, 1, Y3, Y4, course_byElement)
	OTHERS(const_byElement, 2, Y3, Y4, course_byElement)
	OTHERS(const_byElement, 3, Y3, Y4, course_byElement)

	// Of triacs in Y2, 1/energy in Y3, their own d ln E/d ln R in Y4, and in Y5 those
	// whose parts that tells.
	VCMPPD       $ABOVE, NOISE, Y1, Y2
	VDIVPD       Y1, ONE, Y3
	DIAGONAL(SI, const_byTriac, Y4)
	VMULPD       Y3, Y4, Y4
	VANDPD       Y2, Y4, Y4
	VBROADCASTSD numbers<>+32(SB), Y6
	VCMPPD       $ATLEAST, Y6, LESS, Y5
	VCMPPD       $NOTEQ, ZERO, Y4, Y6
	VANDPD       Y6, Y5, Y5

	// square = −slope/less − 1, linear = 1 − square, or else still = 1 and the slope
	VDIVPD  LESS, Y4, Y6
	VADDPD  ONE, Y6, Y6
	VSUBPD  Y6, ZERO, Y6
	VSUBPD  Y6, ONE, Y7
	VANDPD  Y5, Y6, Y6
	VMOVUPD Y6, course_square(DI)
	VANDPD  Y5, Y7, Y7
	VMOVUPD Y7, course_linear(DI)
	VANDNPD ONE, Y5, Y6
	VMOVUPD Y6, course_still(DI)
	VANDNPD Y4, Y5, Y6
	VMOVUPD Y6, course_slope(DI)

	VMULPD Y9, Y3, Y3
	VANDPD Y2, Y3, Y3
	OTHERS(const_byTriac, 0, Y3, Y4, course_byTriac)
	OTHERS(const_byTriac, 1, Y3, Y4, course_byTriac)
	OTHERS(const_byTriac, 2, Y3, Y4, course_byTriac)
	OTHERS(const_byTriac, 3, Y3, Y4, course_byTriac)

	// Where something leaks.
	VMOVUPD      TOTAL(const_ofLeak), Y2
	VCMPPD       $ABOVE, ZERO, Y2, Y3
	VDIVPD       Y1, Y2, Y2
	VANDPD       Y3, Y2, Y2
	VMOVUPD      Y2, course_leak(DI)
	VANDPD       growth_leakage(DX), Y3, Y2
	VMOVUPD      Y2, course_leaksAt(DI)
	VBROADCASTSD numbers<>+24(SB), Y2
	VBLENDVPD    Y3, ONE, Y2, Y2
	VMOVUPD      Y2, course_near(DI)
	VZEROUPPER
	RET

plain:
	JMP ·dividePlain(SB)
