#include "go_asm.h"
#include "textflag.h"

// Names of registers that hold lanes throughout.
#define ONE      Y15
#define RATIO    Y14
#define Y        Y13
#define DROPS    Y12
#define CURRENT  Y11
#define JUNCTION Y10
#define ELEMENTS Y9 // what neighbours make of elements,
#define TRIACS   Y8 // of triacs,
#define SHARES   Y7 // and of what is shared
#define SHARES2  X7
#define WARMTH   Y6 // T_j less that at which leakage begins
#define SOURCE   Y5
#define TRIAC    Y4
#define ABOVE    Y3

// What the drop of channel j makes of all energies.
#define NEIGHBOUR(j) \
	VPERMPD $(j*0x55), DROPS, Y0;                             \
	VMULPD  (course_byElement+j*const_lanesSize)(SI), Y0, Y1; \
	VADDPD  Y1, ELEMENTS, ELEMENTS;                           \
	VMULPD  (course_byTriac+j*const_lanesSize)(SI), Y0, Y1;   \
	VADDPD  Y1, TRIACS, TRIACS;                               \
	VMULPD  (course_byShared+j*const_lanesSize)(SI), Y0, Y1;  \
	VADDPD  Y1, SHARES, SHARES

DATA one<>+0(SB)/8, $1.0
GLOBL one<>(SB), RODATA|NOPTR, $8

DATA half<>+0(SB)/8, $0.5
GLOBL half<>(SB), RODATA|NOPTR, $8

DATA sixth<>+0(SB)/8, $0.16666666666666666
GLOBL sixth<>(SB), RODATA|NOPTR, $8

// leakageLaw
DATA law<>+0(SB)/8, $0.06931471805599453
GLOBL law<>(SB), RODATA|NOPTR, $8

// func carry(c *course, on *going, l *leakage) (stale int)
//
// As carryPlain, line by line; sums are formed in the same order.
TEXT ·carry(SB), NOSPLIT, $0-32
	CMPB ·wide(SB), $0
	JEQ  plain
	MOVQ c+0(FP), SI
	MOVQ on+8(FP), DI
	MOVQ l+16(FP), DX

	// d = T_j − leaksAt − at, and the lanes in which d² > near
	VMOVUPD   going_junction(DI), JUNCTION
	VSUBPD    course_leaksAt(SI), JUNCTION, WARMTH
	VSUBPD    leakage_at(DX), WARMTH, WARMTH
	VMULPD    WARMTH, WARMTH, Y0
	VCMPPD    $0x1E, course_near(SI), Y0, Y0
	VMOVMSKPD Y0, AX
	MOVQ      AX, stale+24(FP)
	TESTQ     AX, AX
	JNE       end

	// ratio = base + rate·mean, y = (ratio − 1)/ratio,
	// drop = (ratio − 1)/(ratio − z·(ratio − 1)), current = 1 − less·drop
	VBROADCASTSD one<>(SB), ONE
	VMOVUPD      going_means(DI), RATIO
	VMULPD       course_rate(SI), RATIO, RATIO
	VADDPD       course_base(SI), RATIO, RATIO
	VSUBPD       ONE, RATIO, Y0
	VDIVPD       RATIO, Y0, Y
	VMULPD       course_z(SI), Y0, Y1
	VSUBPD       Y1, RATIO, Y1
	VDIVPD       Y1, Y0, DROPS
	VMOVUPD      DROPS, going_drops(DI)
	VMULPD       course_less(SI), DROPS, Y0
	VSUBPD       Y0, ONE, CURRENT

	// (1 + Σ drop·by)²
	VMOVAPD ONE, ELEMENTS
	VMOVAPD ONE, TRIACS
	VMOVAPD ONE, SHARES
	NEIGHBOUR(0)
	NEIGHBOUR(1)
	NEIGHBOUR(2)
	NEIGHBOUR(3)
	VMULPD  ELEMENTS, ELEMENTS, ELEMENTS
	VMULPD  TRIACS, TRIACS, TRIACS
	VMULPD  SHARES, SHARES, SHARES

	// scale = (current²·ratio + y²·mixed)·neighbours·(early + warm·T_j) + late
	VMULPD  CURRENT, CURRENT, Y0
	VMULPD  RATIO, Y0, Y1
	VMULPD  Y, Y, Y2
	VMULPD  course_mixed(SI), Y2, Y2
	VADDPD  Y2, Y1, Y1
	VMULPD  ELEMENTS, Y1, Y1
	VMULPD  course_warm(SI), JUNCTION, Y2
	VADDPD  course_early(SI), Y2, Y2
	VMULPD  Y2, Y1, Y1
	VADDPD  going_lateElement(DI), Y1, Y1
	VMOVUPD Y1, going_scale(DI)

	// link = current²·neighbours
	VMULPD  ELEMENTS, Y0, Y0
	VMOVUPD Y0, going_link(DI)

	// element = scale·element, and what wire and element take
	VMULPD  course_element(SI), Y1, Y1
	VMULPD  course_wire(SI), Y0, SOURCE
	VADDPD  Y1, SOURCE, SOURCE
	VADDPD  going_element(DI), Y1, Y1
	VMOVUPD Y1, going_element(DI)

	// triac = (current·(linear + square·current) + still + slope·y)·neighbours
	VMULPD course_square(SI), CURRENT, Y0
	VADDPD course_linear(SI), Y0, Y0
	VMULPD CURRENT, Y0, Y0
	VMULPD course_slope(SI), Y, Y1
	VADDPD course_still(SI), Y1, Y1
	VADDPD Y1, Y0, TRIAC
	VMULPD TRIACS, TRIAC, TRIAC

	// x = law·d, more = base·(1 + x·(1 + x·(1/2 + x/6))) − 1
	VBROADCASTSD law<>(SB), Y0
	VMULPD       Y0, WARMTH, Y0
	VBROADCASTSD sixth<>(SB), Y1
	VMULPD       Y0, Y1, Y1
	VBROADCASTSD half<>(SB), Y2
	VADDPD       Y2, Y1, Y1
	VMULPD       Y0, Y1, Y1
	VADDPD       ONE, Y1, Y1
	VMULPD       Y0, Y1, Y1
	VADDPD       ONE, Y1, Y1
	VMULPD       leakage_base(DX), Y1, Y1
	VSUBPD       ONE, Y1, Y1

	// triac += leak·more + late
	VMULPD course_leak(SI), Y1, Y1
	VADDPD Y1, TRIAC, TRIAC
	VADDPD going_lateTriac(DI), TRIAC, TRIAC

	// pocket = triac·triac, and what of the source that is
	VMULPD course_triac(SI), TRIAC, Y0
	VADDPD Y0, SOURCE, SOURCE

	// stages = stages·left + triac·gain, and their sum
	VXORPD ABOVE, ABOVE, ABOVE
	MOVQ   (going_stages+0)(DI), R8
	MOVQ   (going_stages+8)(DI), CX
	MOVQ   going_left(DI), R9
	MOVQ   course_gain(SI), R10
	SHLQ   $5, CX
	JEQ    warmer
	XORQ   BX, BX

stage:
	VMOVUPD (R8)(BX*1), Y1
	VMULPD  (R9)(BX*1), Y1, Y1
	VMULPD  (R10)(BX*1), TRIAC, Y2
	VADDPD  Y2, Y1, Y1
	VMOVUPD Y1, (R8)(BX*1)
	VADDPD  Y1, ABOVE, ABOVE
	ADDQ    $const_lanesSize, BX
	CMPQ    BX, CX
	JLT     stage

warmer:
	VMOVUPD ABOVE, going_warmer(DI)

	// What goes on as it is.
	VMOVUPD course_gate(SI), Y1
	VMOVUPD Y1, going_gate(DI)
	VMOVDQU going_cycles(DI), Y1
	VPADDQ  course_driven(SI), Y1, Y1
	VMOVDQU Y1, going_cycles(DI)

	// shared = neighbours·shared
	VMULPD  course_shared(SI), SHARES, SHARES
	VADDPD  going_shared(DI), SHARES, Y1
	VMOVUPD Y1, going_shared(DI)

	// source of wiring and upstream link too, and the sums of source and pocket
	VMOVAPD      SHARES2, SHARES2
	VADDPD       SHARES, SOURCE, SOURCE
	VHADDPD      Y0, SOURCE, Y0
	VEXTRACTF128 $1, Y0, X1
	VADDPD       X1, X0, X0
	VADDPD       course_rest(SI), X0, X0   // and minor, beside it
	VMOVUPD      X0, going_source(DI)      // and pocket

end:
	VZEROUPPER
	RET

plain:
	JMP ·carryPlain(SB)
