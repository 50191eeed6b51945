package marks

import "golang.org/x/sys/cpu"

// All but the oldest processors have it.
var hasAVX2 = cpu.X86.HasAVX2

func find(text *[Size]byte, m *Marks) {
	if hasAVX2 {
		findAVX2(text, m)
		return
	}
	findAnywhere(text, m)
}

//go:noescape
func findAVX2(text *[Size]byte, m *Marks)
