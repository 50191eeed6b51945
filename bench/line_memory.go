package main

import (
	"context"
	"fmt"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"

	"example.org/rootward/bench/serving"
)

// memoryLimit is the most that the server may take without water layers.
const memoryLimit = 128 << 20

// memory compares the largest part of a server that was in memory at a time, while it
// answered ten million rows, with that of another that answered a million.
func (b *bench) memory(ctx context.Context) ([]result, error) {
	few := int64(b.size(1_000_000, 100_000))
	var peaks [2][]int64
	for range b.size(5, 1) {
		for i, rows := range []int64{few, 10 * few} {
			peak, err := b.peak(ctx, rows)
			if err != nil {
				return nil, err
			}
			peaks[i] = append(peaks[i], peak)
		}
	}
	for _, list := range peaks {
		slices.Sort(list)
	}
	small, large := peaks[0][len(peaks[0])/2], peaks[1][len(peaks[1])/2]
	r := result{line: memoryLine, ratio: float64(large) / float64(small), measured: mebibytes(large), peer: mebibytes(small)}
	if large > memoryLimit {
		r.failed = fmt.Sprintf("%s are more than the %s that a server without water layers may take", mebibytes(large), mebibytes(memoryLimit))
	}
	return []result{r}, nil
}

func (b *bench) peak(ctx context.Context, rows int64) (int64, error) {
	server, err := b.programs.Start(ctx, b.programs.Rules())
	if err != nil {
		return 0, err
	}
	defer server.Close()
	client := treatmentv1.NewTreatmentServiceClient(server.Conn)
	if _, err := serving.Stream(ctx, client, begin(rows), many.Chunks(seed, rows, chunkRows), nil); err != nil {
		return 0, err
	}
	return server.PeakMemory()
}

func mebibytes(n int64) string { return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20)) }
