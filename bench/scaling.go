package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/testdata/many"

	"example.org/rootward/bench/core"
	"example.org/rootward/bench/serving"
)

// growth is how the time for one of something depends on how much of another there is.
type growth struct {
	what  string
	sizes []int
	each  []float64 // nanoseconds
	times []int     // how many were done, where that is what grows; nil: always as many
}

// exponent is that of the power of the size by which the whole time grows, between the
// smallest and the largest.
func (g *growth) exponent() float64 {
	last := len(g.sizes) - 1
	ratio := g.each[last] / g.each[0]
	if g.times != nil {
		ratio *= float64(g.times[last]) / float64(g.times[0])
	}
	return math.Log(ratio) / math.Log(float64(g.sizes[last])/float64(g.sizes[0]))
}

// scaling prints how time grows with rows, rules and edges on the cores at hand, and
// writes it into a document.
func (b *bench) scaling(ctx context.Context, out io.Writer, document string) error {
	var all []*growth
	for _, measure := range []func(context.Context) (*growth, error){b.byRows, b.byRules, b.byEdges, b.byEdgesLoaded} {
		g, err := measure(ctx)
		if err != nil {
			return err
		}
		all = append(all, g)
	}
	var text strings.Builder
	printGrowth(&text, all)
	fmt.Fprint(out, text.String())
	if document == "" {
		return nil
	}
	return insert(document, fmt.Sprintf("growth on %d", *usedCores), text.String())
}

// byRows streams inventories that are drawn while they are sent.
func (b *bench) byRows(ctx context.Context) (*growth, error) {
	server, err := b.programs.Start(ctx, b.programs.Rules())
	if err != nil {
		return nil, err
	}
	defer server.Close()
	client := treatmentv1.NewTreatmentServiceClient(server.Conn)
	g := &growth{what: "stream, a stem, by rows", sizes: []int{10_000, 100_000, 1_000_000, 10_000_000}}
	if b.fast {
		g.sizes = g.sizes[:3]
	}
	g.times = g.sizes
	for _, rows := range g.sizes {
		runs := max(1, min(5, 1_000_000/rows))
		medians, err := alternately(runs, func() (time.Duration, error) {
			return took(func() error {
				_, err := serving.Stream(ctx, client, begin(int64(rows)), many.Chunks(seed, int64(rows), chunkRows), nil)
				return err
			})
		})
		if err != nil {
			return nil, err
		}
		g.each = append(g.each, each(medians[0], int64(rows)))
	}
	return g, nil
}

// byRules plans under three layers of drawn rules.
func (b *bench) byRules(context.Context) (*growth, error) {
	g := &growth{what: "decision, a stem, by rules in force", sizes: []int{16, 64, 256, 1_024}}
	v := draw(16_384)
	for _, n := range g.sizes {
		sets, err := drawnLaw(n)
		if err != nil {
			return nil, err
		}
		var planners [cores][]core.Stem
		for w := range *usedCores {
			c, err := core.New(sets, v.begin)
			if err != nil {
				return nil, err
			}
			planners[w] = c.Stems(v.chunks[0])
		}
		medians, err := alternately(b.runs(), func() (time.Duration, error) {
			return onCores(*usedCores, int(v.rows), func(w, i int) error {
				planners[w][i].Planner.Plan(&planners[w][i].Stem)
				return nil
			})
		})
		if err != nil {
			return nil, err
		}
		g.each = append(g.each, each(medians[0], v.rows))
	}
	return g, nil
}

// drawnLaw is so many rows in three layers. Each drawn row is about one method, and half
// of them about one land use: most say nothing of most stems, as in a real code.
func drawnLaw(n int) ([]*rules.Set, error) {
	random := rand.New(rand.NewPCG(seed, 4))
	layers := []struct {
		id, scope string
		layer     rules.Layer
	}{{"drawn-federal", "us", rules.Federal}, {"drawn-state", "us/velmora", rules.State}, {"drawn-district", "us/velmora/ossel-creek", rules.District}}
	var sets []*rules.Set
	for i, l := range layers {
		t := rules.Table{Manifest: rules.Manifest{
			ID: l.id, Version: "1", Title: "Drawn for the bench", Publisher: "Nobody", Layer: l.layer, Scope: l.scope, ValidFrom: civil.Of(2025, 1, 1),
		}}
		if l.layer == rules.State {
			t.Rows = always()
		}
		for len(t.Rows) < n*(i+1)/len(layers)-n*i/len(layers) {
			t.Rows = append(t.Rows, drawnRow(random, len(t.Rows)))
		}
		for j := range t.Rows {
			t.Rows[j].Purpose, t.Rows[j].Citation, t.Rows[j].ValidFrom = "Stands for a rule.", "drawn for the bench", t.Manifest.ValidFrom
		}
		s, err := rules.NewSet(t)
		if err != nil {
			return nil, err
		}
		sets = append(sets, s)
	}
	return sets, nil
}

func year() civil.Window { return days(1, 1, 12, 31) }

func days(fromMonth, fromDay, toMonth, toDay int) civil.Window {
	return civil.Window{
		From: civil.DayOfYear{Month: time.Month(fromMonth), Day: fromDay}, To: civil.DayOfYear{Month: time.Month(toMonth), Day: toDay},
	}
}

// always is what no decision does without: the season, and when treatments are open.
func always() []rules.Row {
	return []rules.Row{
		{ID: "season", Effect: rules.InSeason{Season: rules.Translocation, During: year()}},
		{ID: "open", Effect: rules.Window{Open: days(7, 1, 9, 30)}},
	}
}

func drawnRow(random *rand.Rand, number int) rules.Row {
	methods := rules.Words[rules.Method]()
	r := rules.Row{ID: fmt.Sprintf("row-%d", number), When: rules.Selector{Methods: rules.AnyOf(methods[random.IntN(len(methods))])}}
	if uses := rules.Words[rules.LandUse](); random.IntN(2) == 0 {
		r.When.LandUses = rules.AnyOf(uses[random.IntN(len(uses))])
	}
	switch random.IntN(4) {
	case 0:
		r.When.Ranges = []rules.Range{rules.Above(rules.Slope, 200+int64(random.IntN(400)))}
		r.Effect = rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: quantity.Foot * quantity.Micrometres(5+random.IntN(50)), From: rules.WaterEdge}
	case 1:
		r.Effect = rules.Buffer{Water: rules.AnyOf(rules.PerennialStream, rules.Wetland), Distance: quantity.Foot * quantity.Micrometres(5+random.IntN(50)), From: rules.WaterEdge}
	case 2:
		r.Effect = rules.Notice{To: "somebody", MinDays: 1 + random.IntN(9)}
	default:
		r.When.Forms = rules.AnyOf(rules.Tree, rules.Sapling)
		r.Effect = rules.Record{Fields: []string{"place"}, WithinDays: 14, KeepYears: 2}
	}
	return r
}

// edgeSizes are those of the layers of water.
var edgeSizes = []int{10_000, 100_000, 1_000_000}

func (b *bench) byEdges(context.Context) (*growth, error) {
	g := &growth{what: "nearest water within 150 m, a point, by edges", sizes: edgeSizes}
	for _, n := range g.sizes {
		edges := rivers(n)
		layers, err := b.layers(edges, aroundRivers)
		if err != nil {
			return nil, err
		}
		all := spots(near(edges, 100_000))
		medians, err := alternately(b.runs(), func() (time.Duration, error) { return measured(layers, all) })
		if err != nil {
			return nil, err
		}
		g.each = append(g.each, each(medians[0], int64(len(all))))
	}
	return g, nil
}

// byEdgesLoaded is reading the file and making the index.
func (b *bench) byEdgesLoaded(context.Context) (*growth, error) {
	g := &growth{what: "loading a layer of water, an edge, by edges", sizes: edgeSizes, times: edgeSizes}
	for _, n := range g.sizes {
		layers, err := b.layers(rivers(n), aroundRivers)
		if err != nil {
			return nil, err
		}
		g.each = append(g.each, each(layers.LoadTime(), int64(n)))
	}
	return g, nil
}
