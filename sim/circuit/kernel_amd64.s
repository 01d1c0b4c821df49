#include "textflag.h"

// func contractLanes(out, forms, m []float64)
//
// As contractPlain, two lanes to a register.
TEXT ·contractLanes(SB), NOSPLIT, $0-72
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
