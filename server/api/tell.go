package api

import (
	"bytes"
	"fmt"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/treatment"
)

// maxTold bounds what one answer says of faults, in bytes of their fields and problems: those
// of a row can take a hundred times its bytes. It holds what is wrong with every row of
// a chunk of a good size where that is one thing.
const maxTold = 4 << 20

// untold stands for the faults of the first row behind, and alsoUntold for those of the
// others, of which there can be as many as rows.
var (
	untold     = []*treatmentv1.FieldFault{{Problem: fmt.Sprintf("is rejected, and its faults are not listed: those of the rows before it in the chunk are %d MiB; correct these first, or send fewer rows a chunk", maxTold>>20)}}
	alsoUntold = []*treatmentv1.FieldFault{{Problem: "is rejected, too: not listed"}}
)

// tell lists the rejected rows with what is wrong with them, for which it reads them once
// more: until then, and after forget, nothing of it is kept.
func (a *chunkAnswer) tell(rows *chunkRows, c *treatment.Catalogue) {
	if bytes.IndexByte(a.Outcome, byte(treatment.Rejected)) < 0 {
		return
	}
	var r row
	told, instead := 0, untold
	for i, outcome := range a.Outcome {
		if treatment.Outcome(outcome) != treatment.Rejected {
			continue
		}
		one := &treatmentv1.Rejection{Row: a.FirstRow + int64(i)}
		a.Rejections = append(a.Rejections, one)
		if told >= maxTold {
			one.Faults, instead = instead, alsoUntold
			continue
		}
		r.readSited(rows, i, a.named)
		one.Faults = writeFaults(r.all(c))
		for _, f := range one.Faults {
			told += len(f.Field) + len(f.Problem)
		}
	}
}

// forget drops what was told.
func (a *chunkAnswer) forget() { a.Rejections = nil }
