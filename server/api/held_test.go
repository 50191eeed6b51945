package api_test

import (
	"bytes"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// wanting draws stems of which most are prescribed for, if there is room for them.
func (d draw) wanting(n int) []*treatmentv1.Stem {
	stems := d.stems(n)
	for i, drawn := range stems {
		s := goodStem()
		s.StemId, s.SeedBearing, s.DiameterCm = drawn.StemId, drawn.SeedBearing, ptr(4+float64(d.IntN(8)))
		switch d.IntN(4) {
		case 0:
			continue
		case 1:
			s.HeightM, s.AreaM2, s.Count = ptr(1.0), ptr(float64(5+d.IntN(60))), ptr(1+d.Int64N(40))
			s.LargerCount, s.LargerDiameterCm = ptr(d.Int64N(9)), ptr(4+float64(d.IntN(20)))
		}
		stems[i] = s
	}
	return stems
}

// streamedBy has a service answer a stream, and reads its answers.
func streamedBy(t *testing.T, service *api.Treatment, of *treatmentv1.StreamBegin, chunks []*treatmentv1.StemChunk) (answers []*treatmentv1.PrescribeStreamResponse, got *answered) {
	t.Helper()
	d := &direct{messages: []*treatmentv1.PrescribeStreamRequest{begin(of)}}
	for _, c := range chunks {
		d.messages = append(d.messages, chunk(c))
	}
	require.NoError(t, service.PrescribeStream(d))
	require.Len(t, d.answers, len(chunks)+1, "an answer a chunk, then the summary")
	got = &answered{Summary: d.answers[len(chunks)].GetSummary()}
	for i, c := range chunks {
		a := d.answers[i].GetChunk()
		for dose := range a.Stems {
			require.Contains(t, a.Dose, int32(dose+1), "a dose is listed that no row has")
		}
		got.Prescriptions = append(got.Prescriptions, rowsOf(a, columnar.IDs(c))...)
	}
	return d.answers, got
}

// Rows that are held back for a later season leave nothing at a desk: streams that sit at
// it one after the other are answered, byte by byte, as each is at a new one. A row that is
// not held is answered as if it were alone; once the shares of the season are known, all
// are as Prescribe answers.
func TestHeldRowsLeaveNothingAtADesk(t *testing.T) {
	api.Propose(t, 3)
	known, err := shipped()
	require.NoError(t, err)
	law := edition(lawOf(nation(t), state(t), creek(t), fen(t)), "one")
	serving := func() *api.Treatment {
		return api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	}
	used, single := serving(), serve(t, func() api.Law { return law })
	held, seconds := 0, 0 // rows, and those of them with a second dose
	for seed := range uint64(8) {
		d := newDraw(seed)
		of := &treatmentv1.StreamBegin{Date: midsummer(), Sites: d.sites(1 + d.IntN(4))}
		for _, site := range of.Sites {
			site.AreaM2 = ptr(float64(100 + d.IntN(500)))
		}
		stems := d.wanting(100 + d.IntN(300))
		chunks := d.chunked(of.Sites, stems)
		ask := func() *answered {
			want, _ := streamedBy(t, serving(), of, chunks)
			got, rows := streamedBy(t, used, of, chunks)
			for i := range want {
				require.True(t, bytes.Equal(bytesOf(t, want[i]), bytesOf(t, got[i])), "answer %d", i)
			}
			return rows
		}
		first := ask()

		siteAt := func(id string) int {
			return slices.IndexFunc(of.Sites, func(s *treatmentv1.Site) bool { return s.SiteId == id })
		}
		bySite := make([][]*treatmentv1.Stem, len(of.Sites))
		sites := make([]int, len(stems)) // of rows; -1: none of the stream's
		for _, c := range chunks {
			for i, word := range c.Site {
				row := int(c.FirstRow) - 1 + i
				at := siteAt(c.Words[word])
				if sites[row] = at; at < 0 {
					continue
				}
				bySite[at] = append(bySite[at], stems[row])
				alone := prescribed(t, single, of.Sites[at], stems[row:row+1]).Prescriptions[0]
				if got := first.Prescriptions[row]; alone.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED && got.Outcome == treatmentv1.Outcome_OUTCOME_DEFERRED {
					held++
					if alone.SecondDose != nil {
						seconds++
					}
					require.Nil(t, got.Dose)
					require.Nil(t, got.SecondDose)
				} else {
					requireSameRow(t, alone, got)
				}
			}
		}

		want := make([]*answered, len(of.Sites))
		var uses []*treatmentv1.SiteUse
		for i, site := range of.Sites {
			want[i] = prescribed(t, single, site, bySite[i])
			uses = append(uses, want[i].Summary.GetSiteUses()...)
		}
		for _, u := range first.Summary.GetSiteUses() {
			if u.Share != nil {
				site := of.Sites[siteAt(u.SiteId)]
				site.SeasonShares = append(site.SeasonShares, u.Share)
			}
		}
		second := ask()
		for row, at := range sites {
			if at >= 0 {
				requireSameRow(t, want[at].Prescriptions[0], second.Prescriptions[row])
				want[at].Prescriptions = want[at].Prescriptions[1:]
			}
		}
		requireSame(t, &treatmentv1.Summary{SiteUses: uses}, &treatmentv1.Summary{SiteUses: second.Summary.GetSiteUses()})
	}
	assert.Greater(t, held, 100)
	assert.Positive(t, seconds)
	idle, _ := used.Idle()
	assert.Equal(t, 1, idle, "all sat at one desk")
}
