#include "textflag.h"
#include "go_asm.h"
#include "calmkernel_amd64.h"

// BESIDE adds the heat that comes from the shell of boiler j, whose lane is picked.
#define BESIDE(j, lane) \
	VPERMPD $lane, Y7, Y9; \
	VSUBPD  Y7, Y9, Y9;    \
	PLUS(OF(calmLanes_beside, j)(DI), Y9, Y9, Y6)

// func calmBegin(lanes *calmLanes, p *rhythm, factor float64, nodes []float64) (near int)
TEXT ·calmBegin(SB), NOSPLIT, $0-56
	ENABLED(plain)
	MOVQ         lanes+0(FP), DI
	MOVQ         p+8(FP), SI
	VBROADCASTSD factor+16(FP), Y5
	VXORPD       Y6, Y6, Y6
	LOAD5(calmLanes_x, DI)
	VMOVUPD      calmLanes_water(DI), Y1

	// T_w + E/C_w + (T_e − T_w)⁺ C_e/C_w, E = factor energy
	VMULPD rhythm_energy(SI), Y5, Y7
	VMULPD WATER(calmLanes_inverse)(DI), Y7, Y8
	VADDPD Y8, Y1, Y8
	VSUBPD Y1, Y0, Y9
	VMAXPD Y6, Y9, Y9
	PLUS(calmLanes_toWater(DI), Y9, Y9, Y8)

	// T_s + parched (T_e + E/C_e − T_s)⁺, and the greater of both
	VMULPD ELEMENT(calmLanes_inverse)(DI), Y7, Y7
	VADDPD Y7, Y0, Y7
	VSUBPD Y2, Y7, Y7
	VMAXPD Y6, Y7, Y7
	VMULPD calmLanes_parched(DI), Y7, Y7
	VADDPD Y7, Y2, Y7
	VMAXPD Y8, Y7, Y8

	// L = factor linkEnergy/C_l, and the limits
	VMULPD    rhythm_linkEnergy(SI), Y5, Y7
	VMULPD    LINK(calmLanes_inverse)(DI), Y7, Y7
	VCMPPD    $NOTLT, calmLanes_limit(DI), Y8, Y9
	VADDPD    Y7, Y8, Y8
	VCMPPD    $NOTLT, calmLanes_softens(DI), Y8, Y8
	VADDPD    Y7, Y4, Y7
	VCMPPD    $NOTLT, calmLanes_melts(DI), Y7, Y7
	VORPD     Y8, Y9, Y9
	VORPD     Y7, Y9, Y9
	VMOVMSKPD Y9, AX
	MOVQ      AX, near+48(FP)

	// mid = lid + lidHalf (Σ sk (T_s − lid) + lidAir (ambient − lid) + bridge (pocket − lid))
	MOVQ         nodes_base+24(FP), DX
	MOVQ         calmLanes_count(DI), BX
	LEAQ         (BX)(BX*4), BX
	LEAQ         (DX)(BX*8), DX
	VBROADCASTSD NODE(const_lidNode)(DX), Y5
	VMOVUPD      calmLanes_sk(DI), Y6
	VSUBPD       Y5, Y2, Y7
	VMULPD       Y6, Y7, Y7
	SUM(Y7, X7, X8)
	VMOVSD       SINGLE(calmSingles_ambient)(DI), X8
	VSUBSD       X5, X8, X8
	VMULSD       SINGLE(calmSingles_lidAir)(DI), X8, X8
	VMOVSD       NODE(const_pocketNode)(DX), X9
	VSUBSD       X5, X9, X9
	VMULSD       SINGLE(calmSingles_bridge)(DI), X9, X9
	VADDSD       X9, X8, X8
	VADDSD       X8, X7, X7
	VMULSD       SINGLE(calmSingles_lidHalf)(DI), X7, X7
	VADDSD       X5, X7, X7
	VMOVSD       X7, SINGLE(calmSingles_mid)(DI)

	// room + sk mid
	VBROADCASTSD X7, Y7
	VMULPD       Y6, Y7, Y6
	VADDPD       calmLanes_room(DI), Y6, Y6

	// + Σⱼ beside (T_s,mid of j − T_s,mid), T_s,mid = midShell·T + midLid lid + midRoom
	DOT(calmLanes_midShell, Y9, Y8, Y7)
	PLUS(calmLanes_midLid(DI), Y5, Y8, Y7)
	VADDPD  calmLanes_midRoom(DI), Y7, Y7
	BESIDE(0, 0x00)
	BESIDE(1, 0x55)
	BESIDE(2, 0xaa)
	BESIDE(3, 0xff)
	VMOVUPD Y6, calmLanes_shell(DI)

	// w + γ = T_w + (risen·T − rise draw)(1/c_p − 1/c)
	DOT(calmLanes_risen, Y9, Y8, Y7)
	VMOVUPD      calmLanes_draw(DI), Y8
	VMULPD       calmLanes_rise(DI), Y8, Y8
	VSUBPD       Y8, Y7, Y7
	VBROADCASTSD calmLanes_inverseRef(DI), Y8
	VMOVUPD      calmLanes_inverseCP(DI), Y9
	VSUBPD       Y8, Y9, Y8
	VMULPD       Y8, Y7, Y7
	VADDPD       Y7, Y1, Y7
	VMOVUPD      Y7, WATER(calmLanes_x)(DI)
	VZEROUPPER
	RET

plain:
	JMP ·calmBeginPlain(SB)

// func calmMeans(lanes *calmLanes, means *Lanes, p *rhythm, scale *Lanes)
TEXT ·calmMeans(SB), NOSPLIT, $0-32
	ENABLED(plain)

	// Here DI is the rhythm.
	MOVQ    lanes+0(FP), SI
	MOVQ    means+8(FP), DX
	MOVQ    p+16(FP), DI
	MOVQ    scale+24(FP), BX
	LOAD5(calmLanes_x, SI)
	VMOVUPD calmLanes_shell(SI), Y5
	VMOVUPD calmLanes_draw(SI), Y6
	OFLINEAR(rhythm_mean, Y5, Y6, Y9, Y7, Y8)
	VMOVUPD (BX), Y5
	PLUS(rhythm_self(DI), Y5, Y7, Y8)
	VMOVUPD Y8, (DX)
	VZEROUPPER
	RET

plain:
	JMP ·calmMeansPlain(SB)

#define CHANGE(k) calmLanes_change+(k)*linears__size

// GAIN is what node k gains, into Y8, from temperatures in Y0 to Y4, the shell's heat
// in Y7, and factors of element and link in Y5 and Y6.
#define GAIN(k) \
	DOT(CHANGE(k)+linears_x, Y12, Y9, Y8);         \
	VMULPD (CHANGE(k)+linears_shell)(DI), Y7, Y12; \
	PLUS(OF(rhythm_element, k)(SI), Y5, Y9, Y12);  \
	VMULPD OF(rhythm_link, k)(SI), Y6, Y9;         \
	VADDPD OF(calmLanes_drawn, k)(DI), Y9, Y9;     \
	VADDPD Y9, Y12, Y12;                           \
	VADDPD Y12, Y8, Y8

// MOVE gives node k, at x, its new temperature, and goes on to the next kind.
#define MOVE(k, x) \
	VADDPD     Y8, x, Y8;                  \
	VMOVUPD    Y8, OF(calmLanes_x, k)(DI); \
	VMASKMOVPD Y8, Y15, (DX);              \
	ADDQ       BX, DX

// func calmAdvance(lanes *calmLanes, p *rhythm, element, link *Lanes, power float64, nodes []float64) (out int)
TEXT ·calmAdvance(SB), NOSPLIT, $0-72
	ENABLED(plain)
	MOVQ    lanes+0(FP), DI
	MOVQ    p+8(FP), SI
	MOVQ    element+16(FP), R8
	MOVQ    link+24(FP), R9
	MOVQ    nodes_base+40(FP), DX
	MOVQ    calmLanes_count(DI), BX
	SHLQ    $3, BX
	VMOVUPD calmLanes_used(DI), Y15
	VMOVUPD (R8), Y5
	VMOVUPD (R9), Y6
	VMOVUPD calmLanes_shell(DI), Y7
	LOAD5(calmLanes_x, DI)

	// Gains, kept in Y10, that of the water in Y11
	GAIN(0)
	VMULPD  OF(calmLanes_capacity, 0)(DI), Y8, Y10
	MOVE(0, Y0)
	GAIN(1)
	PLUS(OF(calmLanes_capacity, 1)(DI), Y8, Y9, Y10)
	VMOVUPD Y8, Y11
	MOVQ    DX, R10
	ADDQ    BX, DX
	GAIN(2)
	VMULPD  OF(calmLanes_capacity, 2)(DI), Y8, Y13
	MOVE(2, Y2)
	GAIN(3)
	PLUS(OF(calmLanes_capacity, 3)(DI), Y8, Y9, Y13)
	VADDPD  Y13, Y10, Y10
	MOVE(3, Y3)
	GAIN(4)
	PLUS(OF(calmLanes_capacity, 4)(DI), Y8, Y9, Y10)
	MOVE(4, Y4)

	// put = element p.energy + link p.linkEnergy
	VMULPD rhythm_energy(SI), Y5, Y5
	PLUS(rhythm_linkEnergy(SI), Y6, Y9, Y5)

	// left = put + (shell − draw) dt − kept
	VSUBPD       calmLanes_draw(DI), Y7, Y7
	VBROADCASTSD calmLanes_dt(DI), Y9
	VMULPD       Y9, Y7, Y7
	VADDPD       Y7, Y5, Y7
	VSUBPD       Y10, Y7, Y7

	// Sums of put, kept, left, and of what the room gets: in X9, X10, X7, X8
	VMULPD       calmLanes_toRoom(DI), Y7, Y9
	VHADDPD      Y10, Y5, Y5
	VHADDPD      Y9, Y7, Y7
	VINSERTF128  $1, X7, Y5, Y9
	VPERM2F128   $0x31, Y7, Y5, Y5
	VADDPD       Y5, Y9, Y9
	VEXTRACTF128 $1, Y9, X7
	VUNPCKHPD    X9, X9, X10
	VUNPCKHPD    X7, X7, X8

	// sum, heat and all that was put in
	VMOVSD power+32(FP), X0
	VMULSD rhythm_pocket(SI), X0, X1
	VMULSD rhythm_pocketSum(SI), X0, X0
	VADDSD X1, X9, X9
	VMOVSD X9, calmLanes_sums(DI)

	// pocket = sum + own T_pocket + byLid mid + byRoom
	VMOVSD SINGLE(calmSingles_mid)(DI), X2
	VMULSD calmLanes_dt(DI), X2, X2
	VMOVSD NODE(const_pocketNode)(DX), X4
	VMULSD SINGLE(calmSingles_own)(DI), X4, X3
	VMULSD SINGLE(calmSingles_byLid)(DI), X2, X5
	VADDSD X5, X3, X3
	VADDSD SINGLE(calmSingles_byRoom)(DI), X3, X3
	VADDSD X3, X0, X0

	// cross = bridge (mid − pocket), and what goes away to the room
	VSUBSD X0, X2, X3
	VMULSD SINGLE(calmSingles_bridge)(DI), X3, X3
	VMOVSD SINGLE(calmSingles_ambientSum)(DI), X6
	VSUBSD X6, X2, X5
	VMULSD SINGLE(calmSingles_lidAir)(DI), X5, X5
	VSUBSD X6, X0, X0
	VMULSD SINGLE(calmSingles_pocketAir)(DI), X0, X0

	// into = left − lost − toLid mid − cross − away, cross + heat − away
	VSUBSD X8, X7, X7
	VMULSD SINGLE(calmSingles_toLid)(DI), X2, X2
	VSUBSD X2, X7, X7
	VSUBSD X3, X7, X7
	VSUBSD X5, X7, X7
	VADDSD X1, X3, X3
	VSUBSD X0, X3, X3

	// What was stored and lost
	VADDSD X3, X7, X6
	VADDSD X6, X10, X10
	VMOVSD X10, (calmLanes_sums+8)(DI)
	VADDSD X0, X5, X5
	VADDSD X5, X8, X8
	VSUBSD SINGLE(calmSingles_roomHeat)(DI), X8, X8
	VMOVSD X8, (calmLanes_sums+16)(DI)

	// Temperatures of lid and pocket
	VMULSD SINGLE(calmSingles_lidInverse)(DI), X7, X7
	VADDSD NODE(const_lidNode)(DX), X7, X7
	VMOVSD X7, NODE(const_lidNode)(DX)
	VMULSD SINGLE(calmSingles_pocketInverse)(DI), X3, X3
	VADDSD X4, X3, X3
	VMOVSD X3, NODE(const_pocketNode)(DX)

	// H += c g_w thin − extra
	VBROADCASTSD calmLanes_ref(DI), Y9
	VMULPD       Y9, Y11, Y11
	VMULPD       calmLanes_thin(DI), Y11, Y11
	VSUBPD       calmLanes_extra(DI), Y11, Y11
	VADDPD       calmLanes_enthalpy(DI), Y11, Y12
	VMOVUPD      Y12, calmLanes_enthalpy(DI)

	// T₁ = T_w + (gain of H)/c_p
	VMULPD  calmLanes_inverseCP(DI), Y11, Y11
	VADDPD  calmLanes_water(DI), Y11, Y11
	VMOVUPD Y11, calmLanes_guess(DI)

	// H and c_p there
	ALONG(Y11, Y0, Y1, Y2, Y3)
	VMOVMSKPD Y1, AX
	VMULPD    Y0, Y0, Y1
	POLYNOMIAL(calmLanes_integral, Y0, Y1, Y3, Y4)
	VMULPD    Y0, Y3, Y3
	VADDPD    calmLanes_start(DI), Y3, Y3
	POLYNOMIAL(calmLanes_cp, Y0, Y1, Y5, Y4)
	VDIVPD    Y5, Y2, Y5
	VMOVUPD   Y5, calmLanes_inverseCP(DI)

	// T_w = T₁ + (H − H(T₁))/c_p(T₁)
	VSUBPD     Y3, Y12, Y3
	VMULPD     Y5, Y3, Y3
	VADDPD     Y3, Y11, Y3
	VMOVUPD    Y3, calmLanes_water(DI)
	VMASKMOVPD Y3, Y15, (R10)
	MOVQ       AX, out+64(FP)
	VZEROUPPER
	RET

plain:
	JMP ·calmAdvancePlain(SB)

// LIQUID adds what the middle enthalpy of boiler j has in the draws to Y8.
#define LIQUID(j) \
	VBROADCASTSD (calmLanes_middle+8*(j))(DI), Y9; \
	PLUS(OF(calmLanes_flows, j)(DI), Y9, Y9, Y8)

// DRAWS is what draws take with the waters at the middle enthalpies, into Y8. AX gets
// the lanes with steam that is not in the piece of its water.
//
//	Σⱼ flowsⱼ hⱼ − cold + steam h_fg(T_w + (h − H)/c)
#define DRAWS \
	VBROADCASTSD calmLanes_middle(DI), Y8;        \
	VMULPD       calmLanes_flows(DI), Y8, Y8;     \
	LIQUID(1);                                    \
	LIQUID(2);                                    \
	LIQUID(3);                                    \
	VSUBPD       calmLanes_cold(DI), Y8, Y8;      \
	VMOVUPD      calmLanes_middle(DI), Y9;        \
	VSUBPD       calmLanes_enthalpy(DI), Y9, Y9;  \
	VBROADCASTSD calmLanes_inverseRef(DI), Y10;   \
	VMULPD       Y10, Y9, Y9;                     \
	VADDPD       calmLanes_water(DI), Y9, Y9;     \
	ALONG(Y9, Y10, Y11, Y12, Y13);                \
	VXORPD       Y13, Y13, Y13;                   \
	VMOVUPD      calmLanes_steam(DI), Y14;        \
	VCMPPD       $NOTEQ, Y13, Y14, Y15;           \
	VANDPD       Y15, Y11, Y11;                   \
	VMOVMSKPD    Y11, AX;                         \
	VMULPD       Y10, Y10, Y11;                   \
	POLYNOMIAL(calmLanes_hfg, Y10, Y11, Y9, Y12); \
	VANDPD       Y15, Y9, Y9;                     \
	VMULPD       Y14, Y9, Y9;                     \
	VADDPD       Y9, Y8, Y8

// func calmDrawn(lanes *calmLanes)
TEXT ·calmDrawn(SB), NOSPLIT, $0-8
	ENABLED(plain)
	MOVQ lanes+0(FP), DI

	// h = H
	VMOVUPD calmLanes_enthalpy(DI), Y5
	VMOVUPD Y5, calmLanes_middle(DI)
	DRAWS
	MOVQ    AX, BX

	// h += risen·T − rise draw
	LOAD5(calmLanes_x, DI)
	VMOVUPD calmLanes_water(DI), Y1
	VMOVUPD Y1, WATER(calmLanes_x)(DI)
	DOT(calmLanes_risen, Y9, Y7, Y6)
	VMULPD  calmLanes_rise(DI), Y8, Y8
	VSUBPD  Y8, Y6, Y6
	VADDPD  Y6, Y5, Y5
	VMOVUPD Y5, calmLanes_middle(DI)
	DRAWS
	ORQ     BX, AX
	JNE     fresh
	VMOVUPD Y8, calmLanes_draw(DI)
	VZEROUPPER
	RET

fresh: // all that it was made of is as it was
	VZEROUPPER

plain:
	JMP ·calmDrawnPlain(SB)

// DRAWN is what draws make node k gain, into Y9.
#define DRAWN(k) \
	VMULPD  (CHANGE(k)+linears_draw)(DI), Y7, Y9; \
	VMOVUPD Y9, OF(calmLanes_drawn, k)(DI)

// func calmRedraw(lanes *calmLanes, p *rhythm, element, link *Lanes) (carried float64)
TEXT ·calmRedraw(SB), NOSPLIT, $0-40
	ENABLED(plain)
	MOVQ    lanes+0(FP), DI
	MOVQ    p+8(FP), SI
	MOVQ    element+16(FP), R8
	MOVQ    link+24(FP), R9

	// waterMean + element p.water + link p.waterLink
	LOAD5(calmLanes_x, DI)
	VMOVUPD calmLanes_shell(DI), Y5
	VMOVUPD calmLanes_draw(DI), Y6 // taken
	OFLINEAR(calmLanes_waterMean, Y5, Y6, Y9, Y7, Y8)
	VMOVUPD (R8), Y5
	PLUS(rhythm_water(SI), Y5, Y7, Y8)
	VMOVUPD (R9), Y5
	PLUS(rhythm_waterLink(SI), Y5, Y7, Y8)

	// h = H + c (that − (w + γ)), draw = mix(h)
	VSUBPD       Y1, Y8, Y8
	VBROADCASTSD calmLanes_ref(DI), Y7
	VMULPD       Y7, Y8, Y8
	VADDPD       calmLanes_enthalpy(DI), Y8, Y8
	VMOVUPD      Y8, calmLanes_middle(DI)
	DRAWS
	TESTQ        AX, AX
	JNE          fresh
	VMOVUPD      Y6, calmLanes_taken(DI)
	VMOVUPD      Y8, calmLanes_draw(DI)

	// drawn = −change.draw taken, drawn_w −= (draw − taken) dt/C_w
	VBROADCASTSD ·laneSign(SB), Y7
	VXORPD       Y6, Y7, Y7
	DRAWN(0)
	DRAWN(2)
	DRAWN(3)
	DRAWN(4)
	DRAWN(1)
	VSUBPD       Y6, Y8, Y6
	VBROADCASTSD calmLanes_dt(DI), Y7
	VMULPD       Y7, Y6, Y6
	VMULPD       WATER(calmLanes_inverse)(DI), Y6, Y6
	VSUBPD       Y6, Y9, Y9
	VMOVUPD      Y9, WATER(calmLanes_drawn)(DI)
	SUM(Y8, X8, X9)
	VMOVSD       X8, carried+32(FP)
	VZEROUPPER
	RET

fresh: // all that it was made of is as it was
	VZEROUPPER

plain:
	JMP ·calmRedrawPlain(SB)

DATA ·laneHalf+0(SB)/8, $0.5
GLOBL ·laneHalf(SB), RODATA, $8
DATA ·laneOne+0(SB)/8, $1.0
GLOBL ·laneOne(SB), RODATA, $8
DATA ·laneSign+0(SB)/8, $0x8000000000000000
GLOBL ·laneSign(SB), RODATA, $8
