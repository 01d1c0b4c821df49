// What the kernels of a window share. A register holds four lanes. DI is the
// calmLanes, SI the rhythm.

#define LANE 32
#define FIVE (const_calmNodes*LANE)

// Where lanes of node or number k of an array are.
#define OF(array, k) (array+(k)*LANE)

#define ELEMENT(array) OF(array, const_elementNode)
#define WATER(array) OF(array, const_waterNode)
#define SHELL(array) OF(array, const_shellNode)
#define LINK(array) OF(array, const_linkNode)

// Where a number of lid and pocket is, and a node that exists once.
#define SINGLE(number) (calmLanes_single+number)
#define NODE(k) ((k)*8)

// LOAD5 takes the five of an array at base into Y0 to Y4.
#define LOAD5(array, base) \
	VMOVUPD OF(array, 0)(base), Y0; \
	VMOVUPD OF(array, 1)(base), Y1; \
	VMOVUPD OF(array, 2)(base), Y2; \
	VMOVUPD OF(array, 3)(base), Y3; \
	VMOVUPD OF(array, 4)(base), Y4

// PLUS adds x times what lies in memory to sum.
#define PLUS(memory, x, spare, sum) \
	VMULPD memory, x, spare; \
	VADDPD spare, sum, sum

// DOT is the product of the five of an array at DI with those in Y0 to Y4.
#define DOT(array, pair, spare, sum) \
	VMULPD OF(array, 0)(DI), Y0, sum;        \
	PLUS(OF(array, 1)(DI), Y1, spare, sum);  \
	VMULPD OF(array, 2)(DI), Y2, pair;       \
	PLUS(OF(array, 3)(DI), Y3, spare, pair); \
	VMULPD OF(array, 4)(DI), Y4, spare;      \
	VADDPD pair, sum, sum;                   \
	VADDPD spare, sum, sum

// OFLINEAR is a linears at DI, with shell and draw in their registers.
#define OFLINEAR(linear, shell, draw, pair, spare, sum) \
	DOT(linear+linears_x, pair, spare, sum);             \
	PLUS((linear+linears_shell)(DI), shell, spare, sum); \
	VMULPD (linear+linears_draw)(DI), draw, spare;       \
	VSUBPD spare, sum, sum

// ENABLED goes to plain where the processor has no such registers.
#define ENABLED(plain) \
	CMPB ·wide(SB), $0; \
	JEQ  plain

// SUM adds up the lanes of a register, whose lower half is low, into that.
#define SUM(all, low, spare) \
	VHADDPD      all, all, all;  \
	VEXTRACTF128 $1, all, spare; \
	VADDSD       spare, low, low

// Comparisons, all quiet. Those with NOT hold for NaN, the others do not.
#define ABOVE 0x1e
#define EQUAL 0x00
#define ATMOST 0x12
#define NOTEQ 0x04
#define NOTLT 0x15
#define NOTLE 0x16
#define NOTGE 0x19

// ALONG is how far a temperature t lies along its water's piece; out gets a mask of
// the lanes that are not in it, one the number 1 in all lanes.
#define ALONG(t, u, out, one, spare) \
	VBROADCASTSD ·laneHalf(SB), u;          \
	VMULPD       u, t, u;                   \
	VSUBPD       calmLanes_place(DI), u, u; \
	VBROADCASTSD ·laneOne(SB), one;         \
	VXORPD       spare, spare, spare;       \
	VCMPPD       $NOTGE, spare, u, out;     \
	VCMPPD       $NOTLT, one, u, spare;     \
	VORPD        spare, out, out

// POLYNOMIAL is the polynomial of an array at u, whose square is given.
#define POLYNOMIAL(array, u, square, v, w) \
	VMULPD OF(array, 5)(DI), u, v; \
	VADDPD OF(array, 4)(DI), v, v; \
	VMULPD square, v, v;           \
	VMULPD OF(array, 3)(DI), u, w; \
	VADDPD OF(array, 2)(DI), w, w; \
	VADDPD w, v, v;                \
	VMULPD square, v, v;           \
	VMULPD OF(array, 1)(DI), u, w; \
	VADDPD OF(array, 0)(DI), w, w; \
	VADDPD w, v, v
