#include "textflag.h"

// func findAVX2(text *[Size]byte, m *Marks)
//
// Y0, Y1 and Y2 hold commas, line feeds and quotes; each round looks at 64 bytes.
TEXT ·findAVX2(SB), NOSPLIT, $0-16
	MOVQ text+0(FP), SI
	MOVQ m+8(FP), DI
	MOVQ $0x2C2C2C2C2C2C2C2C, AX
	VMOVQ AX, X0
	VPBROADCASTQ X0, Y0
	MOVQ $0x0A0A0A0A0A0A0A0A, AX
	VMOVQ AX, X1
	VPBROADCASTQ X1, Y1
	MOVQ $0x2222222222222222, AX
	VMOVQ AX, X2
	VPBROADCASTQ X2, Y2
	MOVQ $4, CX

round:
	VMOVDQU (SI), Y3
	VMOVDQU 32(SI), Y4
	VPCMPEQB Y1, Y3, Y5
	VPCMPEQB Y1, Y4, Y6
	VPMOVMSKB Y5, R8
	VPMOVMSKB Y6, R9
	SHLQ $32, R9
	ORQ R9, R8
	MOVQ R8, 32(DI)             // Feeds
	VPCMPEQB Y0, Y3, Y7
	VPCMPEQB Y0, Y4, Y8
	VPOR Y7, Y5, Y5
	VPOR Y8, Y6, Y6
	VPMOVMSKB Y5, R8
	VPMOVMSKB Y6, R9
	SHLQ $32, R9
	ORQ R9, R8
	MOVQ R8, (DI)               // Ends
	VPCMPEQB Y2, Y3, Y5
	VPCMPEQB Y2, Y4, Y6
	VPOR Y3, Y5, Y5             // of what is not ASCII the highest bit is set
	VPOR Y4, Y6, Y6
	VPMOVMSKB Y5, R8
	VPMOVMSKB Y6, R9
	SHLQ $32, R9
	ORQ R9, R8
	MOVQ R8, 64(DI)             // Odd
	ADDQ $64, SI
	ADDQ $8, DI
	DECQ CX
	JNZ round
	VZEROUPPER
	RET
