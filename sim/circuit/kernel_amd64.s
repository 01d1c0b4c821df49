#include "textflag.h"

// func contractTwos(out, forms, m []float64)
//
// As contractPlain, two lanes to a register.
TEXT ·contractTwos(SB), NOSPLIT, $0-72
	MOVQ out_base+0(FP), DI
	MOVQ out_len+8(FP), CX
	MOVQ forms_base+24(FP), SI
	MOVQ m_base+48(FP), DX
	MOVQ m_len+56(FP), BX

block:
	SUBQ  $8, CX
	JLT   end
	XORPS X0, X0
	XORPS X1, X1
	XORPS X2, X2
	XORPS X3, X3
	XORQ  AX, AX
	TESTQ BX, BX
	JEQ   store

number:
	MOVSD    (DX)(AX*8), X4
	UNPCKLPD X4, X4
	MOVUPD   (SI), X5
	MOVUPD   16(SI), X6
	MOVUPD   32(SI), X7
	MOVUPD   48(SI), X8
	MULPD    X4, X5
	MULPD    X4, X6
	MULPD    X4, X7
	MULPD    X4, X8
	ADDPD    X5, X0
	ADDPD    X6, X1
	ADDPD    X7, X2
	ADDPD    X8, X3
	ADDQ     $64, SI
	INCQ     AX
	CMPQ     AX, BX
	JLT      number

store:
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	MOVUPD X2, 32(DI)
	MOVUPD X3, 48(DI)
	ADDQ   $64, DI
	JMP    block

end:
	RET

// The first four columns of the row at a place, times theirs, in two sums: of
// even columns and of odd ones.
#define FOUR(at, sums, more) \
	MOVUPD at(SI), sums; \
	MULPD  X8, sums;     \
	MOVUPD (16+at)(SI), more; \
	MULPD  X9, more;     \
	ADDPD  more, sums

// Two columns more.
#define PAIR(at, x, sums, more) \
	MOVUPD at(SI), more; \
	MULPD  x, more;      \
	ADDPD  more, sums

// One column more, the last.
#define LAST(at, x, sums, more) \
	MOVSD at(SI), more; \
	MULSD x, more;      \
	ADDSD more, sums

// The sums of two rows, added up.
#define STORE2 \
	MOVAPD   X0, X1;   \
	UNPCKLPD X2, X0;   \
	UNPCKHPD X2, X1;   \
	ADDPD    X1, X0;   \
	MOVUPD   X0, (DI); \
	ADDQ     $16, DI;  \
	SUBQ     $2, CX

// The sums of one row, added up.
#define STORE1 \
	MOVAPD   X0, X1; \
	UNPCKHPD X1, X1; \
	ADDSD    X1, X0; \
	MOVSD    X0, (DI)

// func dotsWide(out, m, x []float64)
//
// As dotsPlain, for 4 to 8 columns.
TEXT ·dotsWide(SB), NOSPLIT, $0-72
	MOVQ   out_base+0(FP), DI
	MOVQ   out_len+8(FP), CX
	MOVQ   m_base+24(FP), SI
	MOVQ   x_base+48(FP), DX
	MOVQ   x_len+56(FP), BX
	MOVUPD (DX), X8
	MOVUPD 16(DX), X9
	SUBQ   $2, CX
	CMPQ   BX, $6
	JEQ    six
	JGT    more
	CMPQ   BX, $4
	JEQ    four

	// five columns
	MOVSD 32(DX), X10
	CMPQ  CX, $0
	JLT   one5

two5:
	FOUR(0, X0, X1)
	LAST(32, X10, X0, X1)
	FOUR(40, X2, X3)
	LAST(72, X10, X2, X3)
	ADDQ $80, SI
	STORE2
	JGE  two5

one5:
	CMPQ CX, $-1
	JNE  done
	FOUR(0, X0, X1)
	LAST(32, X10, X0, X1)
	STORE1
	RET

four:
	CMPQ CX, $0
	JLT  one4

two4:
	FOUR(0, X0, X1)
	FOUR(32, X2, X3)
	ADDQ $64, SI
	STORE2
	JGE  two4

one4:
	CMPQ CX, $-1
	JNE  done
	FOUR(0, X0, X1)
	STORE1
	RET

six:
	MOVUPD 32(DX), X10
	CMPQ   CX, $0
	JLT    one6

two6:
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	FOUR(48, X2, X3)
	PAIR(80, X10, X2, X3)
	ADDQ $96, SI
	STORE2
	JGE  two6

one6:
	CMPQ CX, $-1
	JNE  done
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	STORE1
	RET

more:
	MOVUPD 32(DX), X10
	CMPQ   BX, $8
	JEQ    eight

	// seven columns
	MOVSD 48(DX), X11
	CMPQ  CX, $0
	JLT   one7

two7:
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	LAST(48, X11, X0, X1)
	FOUR(56, X2, X3)
	PAIR(88, X10, X2, X3)
	LAST(104, X11, X2, X3)
	ADDQ $112, SI
	STORE2
	JGE  two7

one7:
	CMPQ CX, $-1
	JNE  done
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	LAST(48, X11, X0, X1)
	STORE1
	RET

eight:
	MOVUPD 48(DX), X11
	CMPQ   CX, $0
	JLT    one8

two8:
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	PAIR(48, X11, X0, X1)
	FOUR(64, X2, X3)
	PAIR(96, X10, X2, X3)
	PAIR(112, X11, X2, X3)
	ADDQ $128, SI
	STORE2
	JGE  two8

one8:
	CMPQ CX, $-1
	JNE  done
	FOUR(0, X0, X1)
	PAIR(32, X10, X0, X1)
	PAIR(48, X11, X0, X1)
	STORE1

done:
	RET

// The next of some factors, twice in a register.
#define FACTOR \
	MOVSD    (AX), X4; \
	UNPCKLPD X4, X4;   \
	ADDQ     $8, AX

// Two columns of a row at a place, times the factor, added to their sums.
#define WEIGH2(at, sums) \
	MOVUPD at(R9), X5; \
	MULPD  X4, X5;     \
	ADDPD  X5, sums

// One column likewise, the last.
#define WEIGH1(at, sum) \
	MOVSD at(R9), X5; \
	MULSD X4, X5;     \
	ADDSD X5, sum

// Back to the first factor and to the first row, with no sums.
#define FIRST \
	MOVQ  SI, AX; \
	MOVQ  DX, R9; \
	MOVQ  BX, R10; \
	XORPS X0, X0; \
	XORPS X1, X1; \
	XORPS X2, X2; \
	XORPS X3, X3

// On to the next row.
#define NEXT \
	ADDQ R8, R9; \
	DECQ R10

// func weighTwos(to, from, rows []float64)
//
// As weighPlain, for at least one row.
TEXT ·weighTwos(SB), NOSPLIT, $0-72
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
	WEIGH2(0, X0)
	WEIGH2(16, X1)
	WEIGH2(32, X2)
	WEIGH2(48, X3)
	NEXT
	JNE    eight
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	MOVUPD X2, 32(DI)
	MOVUPD X3, 48(DI)
	ADDQ   $64, DI
	ADDQ   $64, DX
	SUBQ   $8, CX
	JNE    columns
	RET

fewer:
	CMPQ CX, $7
	JEQ  seven
	CMPQ CX, $4
	JLT  three

four:
	FACTOR
	WEIGH2(0, X0)
	WEIGH2(16, X1)
	NEXT
	JNE    four
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	ADDQ   $32, DI
	ADDQ   $32, DX
	SUBQ   $4, CX
	JNE    columns
	RET

seven:
	FACTOR
	WEIGH2(0, X0)
	WEIGH2(16, X1)
	WEIGH2(32, X2)
	WEIGH1(48, X3)
	NEXT
	JNE    seven
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	MOVUPD X2, 32(DI)
	MOVSD  X3, 48(DI)
	RET

three:
	CMPQ CX, $2
	JLT  one

two:
	FACTOR
	WEIGH2(0, X0)
	NEXT
	JNE    two
	MOVUPD X0, (DI)
	ADDQ   $16, DI
	ADDQ   $16, DX
	SUBQ   $2, CX
	JNE    columns
	RET

one:
	CMPQ CX, $1
	JLT  none

column:
	FACTOR
	WEIGH1(0, X0)
	NEXT
	JNE   column
	MOVSD X0, (DI)

none:
	RET

// func dotsTwos(out, m, x []float64)
//
// As dotsLongPlain: even columns and odd ones are summed apart, four at a time.
TEXT ·dotsTwos(SB), NOSPLIT, $0-72
	MOVQ out_base+0(FP), DI
	MOVQ out_len+8(FP), CX
	MOVQ m_base+24(FP), SI
	MOVQ x_base+48(FP), DX
	MOVQ x_len+56(FP), BX

row:
	DECQ  CX
	JLT   end
	XORPS X0, X0
	XORPS X1, X1
	MOVQ  DX, AX
	MOVQ  BX, R10
	SUBQ  $4, R10
	JLT   rest

number:
	MOVUPD (SI), X2
	MOVUPD (AX), X3
	MULPD  X3, X2
	ADDPD  X2, X0
	MOVUPD 16(SI), X4
	MOVUPD 16(AX), X5
	MULPD  X5, X4
	ADDPD  X4, X1
	ADDQ   $32, SI
	ADDQ   $32, AX
	SUBQ   $4, R10
	JGE    number

rest:
	ADDQ     $4, R10
	ADDPD    X1, X0
	MOVAPD   X0, X1
	UNPCKHPD X1, X1
	ADDSD    X1, X0

last:
	DECQ  R10
	JLT   store
	MOVSD (SI), X2
	MULSD (AX), X2
	ADDSD X2, X0
	ADDQ  $8, SI
	ADDQ  $8, AX
	JMP   last

store:
	MOVSD X0, (DI)
	ADDQ  $8, DI
	JMP   row

end:
	RET

// The row of the next column, and its factor twice in a register.
#define BACK \
	MOVQ     (AX), R9;        \
	ADDQ     $8, AX;          \
	MOVSD    (SI)(R9*8), X4;  \
	UNPCKLPD X4, X4;          \
	IMULQ    R8, R9;          \
	ADDQ     DX, R9

// Two columns of a row at a place, times the factor, taken from what they leave.
#define LESS2(at, left) \
	MOVUPD at(R9), X5; \
	MULPD  X4, X5;     \
	SUBPD  X5, left

// One column likewise, the last.
#define LESS1(at, left) \
	MOVSD at(R9), X5; \
	MULSD X4, X5;     \
	SUBSD X5, left

// func lessRows(out, factors, rows []float64, columns []int, stride int, times float64)
//
// As lessRowsPlain.
TEXT ·lessRows(SB), NOSPLIT, $0-112
	MOVQ     out_base+0(FP), DI
	MOVQ     out_len+8(FP), CX
	MOVQ     factors_base+24(FP), SI
	MOVQ     rows_base+48(FP), DX
	MOVQ     columns_base+72(FP), BX
	MOVQ     columns_len+80(FP), R11
	MOVQ     stride+96(FP), R8
	SHLQ     $3, R8
	MOVSD    times+104(FP), X6
	UNPCKLPD X6, X6

part:
	MOVQ BX, AX
	MOVQ R11, R10
	CMPQ CX, $8
	JLT  fewer

	MOVUPD (DI), X0
	MOVUPD 16(DI), X1
	MOVUPD 32(DI), X2
	MOVUPD 48(DI), X3

eight:
	DECQ R10
	JLT  store8
	BACK
	LESS2(0, X0)
	LESS2(16, X1)
	LESS2(32, X2)
	LESS2(48, X3)
	JMP  eight

store8:
	MULPD  X6, X0
	MULPD  X6, X1
	MULPD  X6, X2
	MULPD  X6, X3
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	MOVUPD X2, 32(DI)
	MOVUPD X3, 48(DI)
	ADDQ   $64, DI
	ADDQ   $64, DX
	SUBQ   $8, CX
	JNE    part
	RET

fewer:
	CMPQ CX, $7
	JEQ  seven
	CMPQ CX, $4
	JLT  three

	MOVUPD (DI), X0
	MOVUPD 16(DI), X1

four:
	DECQ R10
	JLT  store4
	BACK
	LESS2(0, X0)
	LESS2(16, X1)
	JMP  four

store4:
	MULPD  X6, X0
	MULPD  X6, X1
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	ADDQ   $32, DI
	ADDQ   $32, DX
	SUBQ   $4, CX
	JNE    part
	RET

seven:
	MOVUPD (DI), X0
	MOVUPD 16(DI), X1
	MOVUPD 32(DI), X2
	MOVSD  48(DI), X3

row7:
	DECQ R10
	JLT  store7
	BACK
	LESS2(0, X0)
	LESS2(16, X1)
	LESS2(32, X2)
	LESS1(48, X3)
	JMP  row7

store7:
	MULPD  X6, X0
	MULPD  X6, X1
	MULPD  X6, X2
	MULSD  X6, X3
	MOVUPD X0, (DI)
	MOVUPD X1, 16(DI)
	MOVUPD X2, 32(DI)
	MOVSD  X3, 48(DI)
	RET

three:
	CMPQ   CX, $2
	JLT    one
	MOVUPD (DI), X0

two:
	DECQ R10
	JLT  store2
	BACK
	LESS2(0, X0)
	JMP  two

store2:
	MULPD  X6, X0
	MOVUPD X0, (DI)
	ADDQ   $16, DI
	ADDQ   $16, DX
	SUBQ   $2, CX
	JNE    part
	RET

one:
	CMPQ  CX, $1
	JLT   none
	MOVSD (DI), X0

row1:
	DECQ R10
	JLT  store1
	BACK
	LESS1(0, X0)
	JMP  row1

store1:
	MULSD X6, X0
	MOVSD X0, (DI)

none:
	RET

// Three numbers of two columns, or two, less what the reflection takes: k·s times
// 1, y and z, with s = x + y·v + z·w. The scalar ones are for one column.
#define SUM3(mov, mul, add) \
	mov X1, X3; \
	mul X8, X3; \
	add X0, X3; \
	mov X2, X4; \
	mul X9, X4; \
	add X4, X3

#define SUM2(mov, mul, add) \
	mov X1, X3; \
	mul X8, X3; \
	add X0, X3

#define TAKE(mov, mul, sub, times, from) \
	mov X3, X4;    \
	mul times, X4; \
	sub X4, from

// func reflect3(a, basis []float64, i, left, bottom, n int, y, z, k float64)
//
// As reflect3Plain.
TEXT ·reflect3(SB), NOSPLIT, $0-104
	MOVQ     a_base+0(FP), DI
	MOVQ     basis_base+24(FP), SI
	MOVQ     i+48(FP), AX
	MOVQ     left+56(FP), R11
	MOVQ     n+72(FP), BX
	MOVSD    y+80(FP), X8
	MOVSD    z+88(FP), X9
	MOVSD    k+96(FP), X10
	UNPCKLPD X8, X8
	UNPCKLPD X9, X9
	UNPCKLPD X10, X10
	MOVAPD   X8, X11
	MULPD    X10, X11
	MOVAPD   X9, X12
	MULPD    X10, X12
	MOVQ     BX, R8
	SHLQ     $3, R8
	MOVQ     AX, R9
	IMULQ    R8, R9
	ADDQ     R9, SI        // the basis's rows
	ADDQ     DI, R9
	LEAQ     (R9)(R11*8), DX // those of a
	MOVQ     BX, CX
	SUBQ     R11, CX

rows:
	SUBQ $2, CX
	JLT  odd

pair:
	MOVUPD (DX), X0
	MOVUPD (DX)(R8*1), X1
	MOVUPD (DX)(R8*2), X2
	SUM3(MOVAPD, MULPD, ADDPD)
	TAKE(MOVAPD, MULPD, SUBPD, X10, X0)
	TAKE(MOVAPD, MULPD, SUBPD, X11, X1)
	TAKE(MOVAPD, MULPD, SUBPD, X12, X2)
	MOVUPD X0, (DX)
	MOVUPD X1, (DX)(R8*1)
	MOVUPD X2, (DX)(R8*2)
	ADDQ   $16, DX
	SUBQ   $2, CX
	JGE    pair

odd:
	CMPQ  CX, $-1
	JNE   next
	MOVSD (DX), X0
	MOVSD (DX)(R8*1), X1
	MOVSD (DX)(R8*2), X2
	SUM3(MOVAPD, MULSD, ADDSD)
	TAKE(MOVAPD, MULSD, SUBSD, X10, X0)
	TAKE(MOVAPD, MULSD, SUBSD, X11, X1)
	TAKE(MOVAPD, MULSD, SUBSD, X12, X2)
	MOVSD X0, (DX)
	MOVSD X1, (DX)(R8*1)
	MOVSD X2, (DX)(R8*2)

next:
	MOVQ  SI, DX
	MOVQ  BX, CX
	XORQ  SI, SI
	TESTQ DX, DX
	JNE   rows
	LEAQ  (DI)(AX*8), DX // the columns of a
	MOVQ  bottom+64(FP), CX

column:
	DECQ  CX
	JLT   end
	MOVSD (DX), X0
	MOVSD 8(DX), X1
	MOVSD 16(DX), X2
	SUM3(MOVAPD, MULSD, ADDSD)
	TAKE(MOVAPD, MULSD, SUBSD, X10, X0)
	TAKE(MOVAPD, MULSD, SUBSD, X11, X1)
	TAKE(MOVAPD, MULSD, SUBSD, X12, X2)
	MOVSD X0, (DX)
	MOVSD X1, 8(DX)
	MOVSD X2, 16(DX)
	ADDQ  R8, DX
	JMP   column

end:
	RET

// func reflect2(a, basis []float64, i, left, bottom, n int, y, k float64)
//
// As reflect2Plain.
TEXT ·reflect2(SB), NOSPLIT, $0-96
	MOVQ     a_base+0(FP), DI
	MOVQ     basis_base+24(FP), SI
	MOVQ     i+48(FP), AX
	MOVQ     left+56(FP), R11
	MOVQ     n+72(FP), BX
	MOVSD    y+80(FP), X8
	MOVSD    k+88(FP), X10
	UNPCKLPD X8, X8
	UNPCKLPD X10, X10
	MOVAPD   X8, X11
	MULPD    X10, X11
	MOVQ     BX, R8
	SHLQ     $3, R8
	MOVQ     AX, R9
	IMULQ    R8, R9
	ADDQ     R9, SI
	ADDQ     DI, R9
	LEAQ     (R9)(R11*8), DX
	MOVQ     BX, CX
	SUBQ     R11, CX

rows:
	SUBQ $2, CX
	JLT  odd

pair:
	MOVUPD (DX), X0
	MOVUPD (DX)(R8*1), X1
	SUM2(MOVAPD, MULPD, ADDPD)
	TAKE(MOVAPD, MULPD, SUBPD, X10, X0)
	TAKE(MOVAPD, MULPD, SUBPD, X11, X1)
	MOVUPD X0, (DX)
	MOVUPD X1, (DX)(R8*1)
	ADDQ   $16, DX
	SUBQ   $2, CX
	JGE    pair

odd:
	CMPQ  CX, $-1
	JNE   next
	MOVSD (DX), X0
	MOVSD (DX)(R8*1), X1
	SUM2(MOVAPD, MULSD, ADDSD)
	TAKE(MOVAPD, MULSD, SUBSD, X10, X0)
	TAKE(MOVAPD, MULSD, SUBSD, X11, X1)
	MOVSD X0, (DX)
	MOVSD X1, (DX)(R8*1)

next:
	MOVQ  SI, DX
	MOVQ  BX, CX
	XORQ  SI, SI
	TESTQ DX, DX
	JNE   rows
	LEAQ  (DI)(AX*8), DX
	MOVQ  bottom+64(FP), CX

column:
	DECQ  CX
	JLT   end
	MOVSD (DX), X0
	MOVSD 8(DX), X1
	SUM2(MOVAPD, MULSD, ADDSD)
	TAKE(MOVAPD, MULSD, SUBSD, X10, X0)
	TAKE(MOVAPD, MULSD, SUBSD, X11, X1)
	MOVSD X0, (DX)
	MOVSD X1, 8(DX)
	ADDQ  R8, DX
	JMP   column

end:
	RET

// func clearColumn(rows []float64, own, k int, others, columns []int, inverse float64)
//
// As clearColumnPlain.
TEXT ·clearColumn(SB), NOSPLIT, $0-96
	MOVQ  rows_base+0(FP), DI
	MOVQ  own+24(FP), SI
	MOVQ  k+32(FP), R10
	MOVQ  others_base+40(FP), R12
	MOVQ  others_len+48(FP), R11
	MOVQ  columns_base+64(FP), BX
	MOVQ  columns_len+72(FP), CX
	MOVSD inverse+88(FP), X6
	LEAQ  (DI)(SI*8), SI

row:
	DECQ  R11
	JLT   end
	MOVQ  (R12), R9
	ADDQ  $8, R12
	LEAQ  (DI)(R9*8), R9
	MOVSD (R9)(R10*8), X4
	MULSD X6, X4
	XORQ  AX, AX
	CMPQ  AX, CX
	JGE   row

number:
	MOVQ  (BX)(AX*8), R13
	MOVSD (SI)(R13*8), X5
	MOVSD (R9)(R13*8), X3
	MULSD X4, X5
	SUBSD X5, X3
	MOVSD X3, (R9)(R13*8)
	INCQ  AX
	CMPQ  AX, CX
	JLT   number
	JMP   row

end:
	RET
