#include "textflag.h"

// The next of some factors, four times in a register.
#define FACTOR \
	VBROADCASTSD (AX), Y4; \
	ADDQ         $8, AX

// Four columns of a row at a place, times the factor, added to their sums; two
// columns; one.
#define WEIGH4(at, sums) \
	VMULPD at(R9), Y4, Y5; \
	VADDPD Y5, sums, sums

#define WEIGH2(at, sums) \
	VMULPD at(R9), X4, X5; \
	VADDPD X5, sums, sums

#define WEIGH1(at, sum) \
	VMULSD at(R9), X4, X5; \
	VADDSD X5, sum, sum

// Back to the first factor and to the first row, with no sums.
#define FIRST \
	MOVQ   SI, AX; \
	MOVQ   DX, R9; \
	MOVQ   BX, R10; \
	VXORPD Y0, Y0, Y0; \
	VXORPD Y1, Y1, Y1; \
	VXORPD Y2, Y2, Y2

// On to the next row.
#define NEXT \
	ADDQ R8, R9; \
	DECQ R10

// func weighFours(to, from, rows []float64)
//
// As weighPlain, for at least one row.
TEXT ·weighFours(SB), NOSPLIT, $0-72
	MOVQ to_base+0(FP), DI
	MOVQ to_len+8(FP), CX
	MOVQ from_base+24(FP), SI
	MOVQ from_len+32(FP), BX
	MOVQ rows_base+48(FP), DX
	MOVQ CX, R8
	SHLQ $3, R8

columns:
	FIRST
	CMPQ CX, $8
	JLT  fewer

eight:
	FACTOR
	WEIGH4(0, Y0)
	WEIGH4(32, Y1)
	NEXT
	JNE     eight
	VMOVUPD Y0, (DI)
	VMOVUPD Y1, 32(DI)
	ADDQ    $64, DI
	ADDQ    $64, DX
	SUBQ    $8, CX
	JNE     columns
	VZEROUPPER
	RET

fewer:
	CMPQ CX, $7
	JEQ  seven
	CMPQ CX, $5
	JEQ  five
	CMPQ CX, $4
	JLT  three

four:
	FACTOR
	WEIGH4(0, Y0)
	NEXT
	JNE     four
	VMOVUPD Y0, (DI)
	ADDQ    $32, DI
	ADDQ    $32, DX
	SUBQ    $4, CX
	JNE     columns
	VZEROUPPER
	RET

seven:
	FACTOR
	WEIGH4(0, Y0)
	WEIGH2(32, X1)
	WEIGH1(48, X2)
	NEXT
	JNE     seven
	VMOVUPD Y0, (DI)
	VMOVUPD X1, 32(DI)
	VMOVSD  X2, 48(DI)
	VZEROUPPER
	RET

five:
	FACTOR
	WEIGH4(0, Y0)
	WEIGH1(32, X1)
	NEXT
	JNE     five
	VMOVUPD Y0, (DI)
	VMOVSD  X1, 32(DI)
	VZEROUPPER
	RET

three:
	CMPQ CX, $2
	JLT  one

two:
	FACTOR
	WEIGH2(0, X0)
	NEXT
	JNE     two
	VMOVUPD X0, (DI)
	ADDQ    $16, DI
	ADDQ    $16, DX
	SUBQ    $2, CX
	JNE     columns
	VZEROUPPER
	RET

one:
	CMPQ CX, $1
	JLT  none

column:
	FACTOR
	WEIGH1(0, X0)
	NEXT
	JNE    column
	VMOVSD X0, (DI)

none:
	VZEROUPPER
	RET

// func contractFours(out, forms, m []float64)
//
// As contractPlain, four lanes to a register.
TEXT ·contractFours(SB), NOSPLIT, $0-72
	MOVQ out_base+0(FP), DI
	MOVQ out_len+8(FP), CX
	MOVQ forms_base+24(FP), SI
	MOVQ m_base+48(FP), DX
	MOVQ m_len+56(FP), BX

lanes:
	SUBQ   $8, CX
	JLT    end
	MOVQ   DX, AX
	MOVQ   BX, R10
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1

number:
	DECQ         R10
	JLT          store
	VBROADCASTSD (AX), Y4
	VMULPD       (SI), Y4, Y5
	VADDPD       Y5, Y0, Y0
	VMULPD       32(SI), Y4, Y6
	VADDPD       Y6, Y1, Y1
	ADDQ         $8, AX
	ADDQ         $64, SI
	JMP          number

store:
	VMOVUPD Y0, (DI)
	VMOVUPD Y1, 32(DI)
	ADDQ    $64, DI
	JMP     lanes

end:
	VZEROUPPER
	RET

// func dotsFours(out, m, x []float64)
//
// As dotsLongPlain: every fourth column is summed apart.
TEXT ·dotsFours(SB), NOSPLIT, $0-72
	MOVQ out_base+0(FP), DI
	MOVQ out_len+8(FP), CX
	MOVQ m_base+24(FP), SI
	MOVQ x_base+48(FP), DX
	MOVQ x_len+56(FP), BX

row:
	DECQ   CX
	JLT    end
	VXORPD Y0, Y0, Y0
	MOVQ   DX, AX
	MOVQ   BX, R10
	SUBQ   $8, R10
	JLT    four

eight:
	VMOVUPD (SI), Y2
	VMULPD  (AX), Y2, Y2
	VMOVUPD 32(SI), Y3
	VMULPD  32(AX), Y3, Y3
	VADDPD  Y2, Y0, Y0
	VADDPD  Y3, Y0, Y0
	ADDQ    $64, SI
	ADDQ    $64, AX
	SUBQ    $8, R10
	JGE     eight

four:
	ADDQ    $4, R10
	JLT     rest
	VMOVUPD (SI), Y2
	VMULPD  (AX), Y2, Y2
	VADDPD  Y2, Y0, Y0
	ADDQ    $32, SI
	ADDQ    $32, AX
	SUBQ    $4, R10

rest:
	ADDQ         $4, R10
	VEXTRACTF128 $1, Y0, X1
	VADDPD       X1, X0, X0
	VUNPCKHPD    X0, X0, X1
	VADDSD       X1, X0, X0

last:
	DECQ   R10
	JLT    store
	VMOVSD (SI), X2
	VMULSD (AX), X2, X2
	VADDSD X2, X0, X0
	ADDQ   $8, SI
	ADDQ   $8, AX
	JMP    last

store:
	VMOVSD X0, (DI)
	ADDQ   $8, DI
	JMP    row

end:
	VZEROUPPER
	RET
