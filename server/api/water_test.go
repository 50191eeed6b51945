package api_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
	"example.org/rootward/server/water"
)

// The invented map: a stream along the 44th parallel, a lake of about 80 by 110 m to
// the north of it, and everything there is of both, and of wetland, between 43.99 and
// 44.01 degrees. Of wells it shows one, and does not say that it is all.
const (
	streamLatitude = 44.0
	eastLongitude  = -76.0
)

// metresPerDegree is the length of a degree of latitude at 44 degrees: M·π/180 with
// M = a(1-e²)/(1-e²sin²φ)^(3/2) of WGS 84.
const metresPerDegree = 111_112.242

func northOfStream(metres float64) float64 { return streamLatitude + metres/metresPerDegree }

func layerText(streamAt float64) string {
	box := func(south, north, west, east float64) string {
		return fmt.Sprintf(`[[[%[3]v,%[1]v],[%[4]v,%[1]v],[%[4]v,%[2]v],[%[3]v,%[2]v],[%[3]v,%[1]v]]]`, south, north, west, east)
	}
	feature := func(properties, kind, coordinates string) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":%q,"coordinates":%s}}`, properties, kind, coordinates)
	}
	return `{"type":"FeatureCollection","features":[` + strings.Join([]string{
		feature(`"water_class":"perennial_stream","origin":"water_edge"`, "LineString", fmt.Sprintf(`[[-76.1,%[1]v],[-75.9,%[1]v]]`, streamAt)),
		feature(`"water_class":"lake","origin":"water_edge"`, "Polygon", box(44.005, 44.006, -76.001, -76.0)),
		feature(`"water_class":"well","origin":"water_edge"`, "Point", `[-76.05,44.003]`),
		feature(`"coverage_of":["perennial_stream","lake","wetland"],"origin":"water_edge"`, "Polygon", box(43.99, 44.01, -76.1, -75.9)),
	}, ",") + `]}`
}

func layersWith(tb testing.TB, streamAt float64) *water.Layers {
	tb.Helper()
	dir := tb.TempDir()
	require.NoError(tb, os.WriteFile(filepath.Join(dir, "creek.geojson"), []byte(layerText(streamAt)), 0o600))
	layers, err := water.Load(dir)
	require.NoError(tb, err)
	return layers
}

// serveWater serves the full law with the invented map.
func serveWater(tb testing.TB) clients {
	layers := layersWith(tb, streamLatitude)
	law := fullLaw(tb)
	return serveAll(tb, api.Services{Current: func() api.Law { return law }, Water: func() *water.Layers { return layers }})
}

// sprayed is a stem that is sprayed where no water is near: a low sucker in leaf.
func sprayed(latitude, uncertainty float64) *treatmentv1.Stem {
	s := goodStem()
	s.Form, s.DiameterCm, s.HeightM, s.CrownWidthM = commonv1.GrowthForm_GROWTH_FORM_ROOT_SUCKER, nil, ptr(1.5), ptr(1.0)
	s.OtherWaterBeyondM = nil
	s.LatitudeDeg, s.LongitudeDeg = ptr(latitude), ptr(eastLongitude)
	if uncertainty >= 0 {
		s.CoordinateUncertaintyM = ptr(uncertainty)
	}
	return s
}

func one(tb testing.TB, c clients, s *treatmentv1.Stem, settings *treatmentv1.Settings) (*treatmentv1.Prescription, *treatmentv1.Explanation) {
	tb.Helper()
	r, err := c.Prescribe(tb.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{s}, Settings: settings})
	require.NoError(tb, err)
	require.Empty(tb, r.Prescriptions[0].Faults)
	return r.Prescriptions[0], r.Explanations[r.Prescriptions[0].GetExplanation()]
}

func computedOf(list []*commonv1.WaterDistance, class commonv1.WaterClass) *commonv1.WaterDistance {
	for _, d := range list {
		if d.WaterClass == class {
			return d
		}
	}
	return nil
}

// foliarDecision is what the rules say of spraying by hand, chosen or not.
func foliarDecision(e *treatmentv1.Explanation) commonv1.Decision {
	const spraying = commonv1.Method_METHOD_LOW_VOLUME_FOLIAR
	if e.GetChoice().GetMethod() == spraying {
		return e.GetChoice().GetDecision()
	}
	for _, a := range e.GetAlternatives() {
		if a.GetMethod() == spraying && a.GetFormulationId() != "" {
			return a.GetDecision()
		}
	}
	return 0
}

// A buffer of 30 m of streams, lakes and wetlands, counted from the water's edge, is
// held against distances that are computed, less the uncertainty and half the crown.
func TestComputedDistancesDecide(t *testing.T) {
	c := serveWater(t)
	const stream, lake = commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM, commonv1.WaterClass_WATER_CLASS_LAKE
	cases := []struct {
		name  string
		stem  *treatmentv1.Stem
		want  commonv1.Decision
		class commonv1.WaterClass
		at    float64 // metres; 60 is as far as the law asks
		edit  func(s *treatmentv1.Stem)
	}{
		{name: "beyond", stem: sprayed(northOfStream(36), 5), want: commonv1.Decision_DECISION_CONDITIONAL, class: stream, at: 30.5},
		{name: "the uncertainty reaches in", stem: sprayed(northOfStream(36), 6), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 29.5},
		{name: "the crown reaches in", stem: sprayed(northOfStream(36), 5), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 29.5, edit: func(s *treatmentv1.Stem) { s.CrownWidthM = ptr(3.0) }},
		{name: "a larger stem's bark reaches in", stem: sprayed(northOfStream(36), 5), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 29.5, edit: func(s *treatmentv1.Stem) { s.LargerCount, s.LargerDiameterCm = ptr(int64(2)), ptr(300.0) }},
		{name: "near", stem: sprayed(northOfStream(10), 0.001), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 9.5},
		{name: "near, though far is stated", stem: sprayed(northOfStream(10), 0.001), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 9.5, edit: stated(stream, 100)},
		{name: "far, though near is stated", stem: sprayed(northOfStream(100), 0.001), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 60, edit: stated(stream, 10)},
		{name: "in the lake", stem: sprayed(44.0055, 0.001), want: commonv1.Decision_DECISION_PROHIBITED, class: lake, at: 0, edit: func(s *treatmentv1.Stem) { s.LongitudeDeg = ptr(-76.0005) }},
		{name: "in the stream by its uncertainty", stem: sprayed(northOfStream(10), 50), want: commonv1.Decision_DECISION_PROHIBITED, class: stream, at: 0},
	}
	for _, cs := range cases {
		t.Run(cs.name, func(t *testing.T) {
			if cs.edit != nil {
				cs.edit(cs.stem)
			}
			p, e := one(t, c, cs.stem, nil)
			assert.Equal(t, cs.want, foliarDecision(e))
			d := computedOf(p.ComputedWater, cs.class)
			require.NotNil(t, d)
			assert.InDelta(t, cs.at, d.DistanceM, 0.05)
			assert.Equal(t, cs.at == 60, d.AtLeast)
			assert.Equal(t, commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE, d.Origin)
		})
	}
}

// Whatever the position, its uncertainty and the crown: no buffer is passed, and none
// is asked for more than 10 cm too early. The distance to the stream is the arc of the
// meridian, within 0.1 mm for a parallel that near.
func TestNoBufferIsPassedByComputing(t *testing.T) {
	c := serveWater(t)
	d := newDraw(3)
	var stems []*treatmentv1.Stem
	for range 800 {
		s := sprayed(northOfStream(d.Float64()*90), d.Float64()*20)
		s.StemId, s.CrownWidthM = fmt.Sprint(len(stems)), ptr(0.1+4*d.Float64())
		s.LongitudeDeg = ptr(-76.05 + 0.04*d.Float64()) // far from the lake
		stems = append(stems, s)
	}
	kept, broken := 0, 0
	for i, p := range prescribed(t, c, goodSite(), stems).Prescriptions {
		s := stems[i]
		least := (s.GetLatitudeDeg()-streamLatitude)*metresPerDegree - s.GetCoordinateUncertaintyM() - s.GetCrownWidthM()/2
		switch decision := foliarDecision(p.Explanation); {
		case decision == commonv1.Decision_DECISION_CONDITIONAL:
			assert.GreaterOrEqual(t, least, 30-0.0001, "%v", s)
			kept++
		case decision == commonv1.Decision_DECISION_PROHIBITED:
			assert.Less(t, least, 30.1, "%v", s)
			broken++
		default:
			assert.Fail(t, "everything is known here", "%v", s)
		}
	}
	assert.Greater(t, min(kept, broken), 200)
}

func stated(class commonv1.WaterClass, metres float64) func(*treatmentv1.Stem) {
	return func(s *treatmentv1.Stem) {
		s.WaterDistances = append(s.WaterDistances, &commonv1.WaterDistance{
			WaterClass: class, DistanceM: metres, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE,
		})
	}
}

// What cannot be computed safely is not computed: nothing is allowed for it, and the
// remedies say what to do.
func TestWhatKeepsFromComputing(t *testing.T) {
	c := serveWater(t)
	cases := []struct {
		name     string
		stem     func() *treatmentv1.Stem
		settings *treatmentv1.Settings
		remedy   []string // empty: it is computed
	}{
		{"no uncertainty", func() *treatmentv1.Stem { return sprayed(northOfStream(60), -1) }, nil, []string{"coordinateUncertaintyInMeters", "coordinate_uncertainty_m"}},
		{"the setting stands for it", func() *treatmentv1.Stem { return sprayed(northOfStream(60), -1) }, &treatmentv1.Settings{CoordinateUncertaintyM: ptr(5.0)}, nil},
		{"a patch without an outline", patch, nil, []string{"outline of the patch"}},
		{"a patch with one", outlined, nil, nil},
		{"outside of the coverage", func() *treatmentv1.Stem { return sprayed(44.02, 5) }, nil, []string{"which no water layer covers there"}},
		{"at the edge of the coverage", func() *treatmentv1.Stem { return sprayed(43.99+20/metresPerDegree, 5) }, nil, []string{"which no water layer covers there"}},
		{"no position", func() *treatmentv1.Stem { s := sprayed(44, 5); s.LatitudeDeg, s.LongitudeDeg = nil, nil; return s }, nil, []string{"distance to perennial stream"}},
	}
	for _, cs := range cases {
		t.Run(cs.name, func(t *testing.T) {
			p, e := one(t, c, cs.stem(), cs.settings)
			if cs.remedy == nil {
				assert.Equal(t, commonv1.Decision_DECISION_CONDITIONAL, foliarDecision(e), "%v", e.Remedies)
				return
			}
			assert.Equal(t, commonv1.Decision_DECISION_UNDETERMINED, foliarDecision(e))
			for _, text := range cs.remedy {
				assert.Contains(t, everything(e), text)
			}
			if cs.remedy[0] != "which no water layer covers there" {
				assert.Empty(t, p.ComputedWater)
			}
		})
	}
}

// everything is the explanation's remedies and reasons.
func everything(e *treatmentv1.Explanation) string {
	text := e.GetWhy() + strings.Join(e.GetRemedies(), "\n")
	for _, a := range e.GetAlternatives() {
		text += strings.Join(a.GetReasons(), "\n")
	}
	return text
}

func patch() *treatmentv1.Stem {
	s := sprayed(northOfStream(60), 5)
	s.AreaM2, s.Count = ptr(100.0), ptr(int64(10))
	return s
}

func outlined() *treatmentv1.Stem {
	s := patch()
	s.LatitudeDeg, s.LongitudeDeg = nil, nil
	south, north := northOfStream(36), northOfStream(46)
	s.Outline = []*treatmentv1.Ring{{LatitudeDeg: []float64{south, south, north}, LongitudeDeg: []float64{-76.0002, -76.0001, -76.0001}}}
	return s
}

// A remedy for distances to water is told only where one is what is missing.
func TestRemediesOfPositionsAreToldWhereTheyHelp(t *testing.T) {
	s := sprayed(northOfStream(60), -1)
	s.OtherWaterBeyondM = ptr(200.0)
	_, e := one(t, serveWater(t), s, nil)
	assert.NotContains(t, everything(e), "coordinateUncertaintyInMeters")
}

// A layer of edges does not show a bank kept, however far it is; it may show it broken.
func TestALayerOfEdgesAndARuleFromTheBank(t *testing.T) {
	layers := layersWith(t, streamLatitude)
	law := lawOf(nation(t), state(t), bankLaw(t))
	c := serveAll(t, api.Services{Current: func() api.Law { return law }, Water: func() *water.Layers { return layers }})
	for metres, want := range map[float64]commonv1.Decision{
		49: commonv1.Decision_DECISION_PROHIBITED, 200: commonv1.Decision_DECISION_UNDETERMINED,
	} {
		_, e := one(t, c, sprayed(northOfStream(metres), 0.001), nil)
		assert.Equal(t, want, foliarDecision(e), "%g m", metres)
	}
}

// The area of a lake that the map shows is known to a rule about larger ones, unless
// the inventory tells of a lake, which may be another.
func TestTheAreaOfALakeIsKnown(t *testing.T) {
	layers := layersWith(t, streamLatitude)
	spraying := rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	law := func(least quantity.SquareMillimetres) api.Law {
		large := rules.Selector{Methods: spraying, Ranges: []rules.Range{rules.Above(rules.LakeArea, int64(least))}}
		return lawOf(nation(t), state(t), setOf(t, "ossel-creek", rules.District, district,
			row("large", large, rules.Prohibit{}),
			row("far", rules.Selector{Methods: spraying}, rules.Buffer{Water: rules.AnyOf(rules.Wetland), Distance: 120 * quantity.Metre, From: rules.WaterEdge})))
	}
	nearLake := sprayed(44.0051, 1)
	nearLake.LongitudeDeg = ptr(-75.999) // 80 m east of it
	for least, want := range map[quantity.SquareMillimetres]commonv1.Decision{
		quantity.Hectare: commonv1.Decision_DECISION_CONDITIONAL, quantity.Hectare / 2: commonv1.Decision_DECISION_PROHIBITED,
	} {
		l := law(least)
		c := serveAll(t, api.Services{Current: func() api.Law { return l }, Water: func() *water.Layers { return layers }})
		_, e := one(t, c, nearLake, nil)
		assert.Equal(t, want, foliarDecision(e), "larger than %g m2", least.SquareMetres())
		told := proto.Clone(nearLake).(*treatmentv1.Stem)
		stated(commonv1.WaterClass_WATER_CLASS_LAKE, 90)(told)
		_, e = one(t, c, told, nil)
		assert.Equal(t, commonv1.Decision_DECISION_UNDETERMINED, foliarDecision(e))
	}
}

// What a hangup puts in the place of the layers is for streams that begin later.
func TestAStreamKeepsItsLayers(t *testing.T) {
	near, far := layersWith(t, streamLatitude), layersWith(t, 43.9985)
	var now atomic.Pointer[water.Layers]
	now.Store(near)
	law := fullLaw(t)
	c := serveAll(t, api.Services{Current: func() api.Law { return law }, Water: now.Load})
	stems := []*treatmentv1.Stem{sprayed(northOfStream(10), 0.001)}
	stream, err := c.PrescribeStream(t.Context())
	require.NoError(t, err)
	require.NoError(t, stream.Send(begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})))
	require.NoError(t, stream.Send(chunk(chunkOf(1, goodSite().SiteId, stems))))
	first, err := stream.Recv()
	require.NoError(t, err)
	now.Store(far)
	require.NoError(t, stream.Send(chunk(chunkOf(2, goodSite().SiteId, stems))))
	second, err := stream.Recv()
	require.NoError(t, err)
	assert.Equal(t, first.GetChunk().ComputedWater[0].DistanceUm, second.GetChunk().ComputedWater[0].DistanceUm)
	require.NoError(t, stream.CloseSend())
	last, err := stream.Recv()
	require.NoError(t, err)
	assert.Equal(t, near.Describe()[0].Digest, last.GetSummary().WaterLayers[0].Digest)

	p, _ := one(t, c, stems[0], nil)
	d := computedOf(p.ComputedWater, commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM)
	assert.True(t, d.AtLeast || d.DistanceM > 100, "the next call has the new layers")
}

func TestSelectMethodComputesToo(t *testing.T) {
	c := serveWater(t)
	for metres, refused := range map[float64]bool{10: true, 100: false} {
		r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: sprayed(northOfStream(metres), 0.001)})
		require.NoError(t, err)
		_, ranks := ranked(r)[commonv1.Method_METHOD_LOW_VOLUME_FOLIAR]
		assert.Equal(t, refused, !ranks, "%g m", metres)
	}
}

func ranked(r *treatmentv1.SelectMethodResponse) map[commonv1.Method]bool {
	methods := map[commonv1.Method]bool{}
	for _, c := range r.Ranked {
		methods[c.Method] = true
	}
	return methods
}

// Both paths read positions and answer alike, fault by fault, whether there are layers or not.
func TestStreamMeasuresAsPrescribeDoes(t *testing.T) {
	stems := newDraw(7).stems(1_500)
	newDraw(8).place(stems)
	for name, c := range map[string]clients{"layers": serveWater(t), "none": serveFull(t)} {
		byRow := prescribed(t, c, goodSite(), stems)
		measured, misplaced := 0, 0
		for _, p := range byRow.Prescriptions {
			if len(p.ComputedWater) > 0 {
				measured++
			}
			for _, f := range p.Faults {
				if strings.HasPrefix(f.Field, "latitude_deg") || strings.HasPrefix(f.Field, "coordinate_") || strings.HasPrefix(f.Field, "outline") {
					misplaced++
				}
			}
		}
		assert.Equal(t, name == "layers", measured > 300, name)
		assert.Greater(t, misplaced, 30, name)
		inColumns := streamed(t, c, goodSite(), stems, 5) // chunks with faulty positions among others
		for i := range stems {
			requireSameRow(t, byRow.Prescriptions[i], inColumns.Prescriptions[i])
		}
		requireSame(t, byRow.Summary, inColumns.Summary)
		if name == "none" {
			assert.Empty(t, byRow.Summary.WaterLayers)
			continue
		}
		require.Len(t, byRow.Summary.WaterLayers, 1)
		assert.Equal(t, "creek", byRow.Summary.WaterLayers[0].Name)
	}
}

// place gives stems positions about the invented stream, some of them wrong.
// A warm desk names the layers in the summaries of those requests that asked them for a
// distance, and in no others.
func TestWarmSummariesNameTheLayersThatWereAsked(t *testing.T) {
	law, layers := fullLaw(t), layersWith(t, streamLatitude)
	with := func(law api.Law) clients {
		return serveAll(t, api.Services{Current: func() api.Law { return law }, Water: func() *water.Layers { return layers }})
	}
	warm, cold := with(edition(law, "one")), with(law)
	d := newDraw(52)
	named := map[bool]int{}
	for round := range 40 {
		q := d.request()
		q.Date, q.Settings = midsummer(), nil // of one desk
		if round%2 == 0 {
			d.place(q.Stems)
		}
		want, err := cold.Prescribe(t.Context(), q)
		require.NoError(t, err)
		got, err := warm.Prescribe(t.Context(), q)
		require.NoError(t, err)
		requireSameRows(t, answeredBy(want), answeredBy(got))
		named[len(got.Summary.WaterLayers) > 0]++
	}
	assert.Greater(t, min(named[true], named[false]), 5)
}

func (d draw) place(stems []*treatmentv1.Stem) {
	for _, s := range stems {
		if d.IntN(5) == 0 {
			continue
		}
		s.LatitudeDeg, s.LongitudeDeg = ptr(43.995+0.01*d.Float64()), ptr(-76.05+0.1*d.Float64())
		s.CoordinateUncertaintyM = d.micrometres(1, 20_000_000, 1e6)
		if s.AreaM2 != nil && d.IntN(3) > 0 {
			lat, lon := *s.LatitudeDeg, *s.LongitudeDeg
			for i := range 1 + d.IntN(3) {
				size := 1e-4 / float64(i+1)
				s.Outline = append(s.Outline, &treatmentv1.Ring{LatitudeDeg: []float64{lat, lat, lat + size}, LongitudeDeg: []float64{lon, lon + size, lon}, Hole: i > 0 && d.IntN(2) == 0})
			}
		}
		if d.IntN(15) == 0 {
			d.misplace(s)
		}
	}
}

func (d draw) misplace(s *treatmentv1.Stem) {
	ring := func(lat, lon []float64) func() {
		return func() { s.Outline = []*treatmentv1.Ring{{LatitudeDeg: lat, LongitudeDeg: lon}} }
	}
	[]func(){
		func() { s.LatitudeDeg = nil },
		func() { s.LongitudeDeg = nil },
		func() { s.LatitudeDeg = ptr(90.5) },
		func() { s.LongitudeDeg = ptr(math.Inf(-1)) },
		func() { s.CoordinateUncertaintyM = ptr([]float64{-3, 0}[d.IntN(2)]) },
		func() { s.CoordinateUncertaintyM = ptr(2e6) },
		ring([]float64{44, 44}, []float64{-76, -76}),
		ring([]float64{44, 44, 44}, []float64{-76, -76}),
		ring([]float64{44, 44, 91}, []float64{-76, -76, 181}),
		ring([]float64{44, math.NaN(), 44.1}, []float64{-76, -76, -76}),
	}[d.IntN(10)]()
}

// A chunk whose columns of positions do not fit is refused.
func TestColumnsOfPositionsAreChecked(t *testing.T) {
	c := serveWater(t)
	good := func() *treatmentv1.StemChunk {
		return chunkOf(1, goodSite().SiteId, []*treatmentv1.Stem{sprayed(44, 5), sprayed(44, 5)})
	}
	for field, spoil := range map[string]func(*treatmentv1.StemChunk){
		"chunk.latitude_deg":              func(c *treatmentv1.StemChunk) { c.LatitudeDeg = c.LatitudeDeg[:1] },
		"chunk.longitude_deg":             func(c *treatmentv1.StemChunk) { c.LongitudeDeg = append(c.LongitudeDeg, 1) },
		"chunk.coordinate_uncertainty_um": func(c *treatmentv1.StemChunk) { c.CoordinateUncertaintyUm = c.CoordinateUncertaintyUm[:1] },
		"chunk.outlines[0].index":         func(c *treatmentv1.StemChunk) { c.Outlines = []*treatmentv1.RowOutline{{Index: 2}} },
		"chunk.outlines[1].index":         func(c *treatmentv1.StemChunk) { c.Outlines = []*treatmentv1.RowOutline{{Index: 1}, {Index: 1}} },
	} {
		chunkWithout := good()
		spoil(chunkWithout)
		_, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), chunk(chunkWithout))
		assert.Equal(t, codes.InvalidArgument, status.Code(err), field)
		assert.ErrorContains(t, err, field)
	}
}

func TestASettingOfUncertaintyIsChecked(t *testing.T) {
	c := serveWater(t)
	for _, wrong := range []float64{-1, 0, 1e-13} {
		settings := &treatmentv1.Settings{CoordinateUncertaintyM: &wrong}
		_, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{goodStem()}, Settings: settings})
		assert.ErrorContains(t, err, "settings.coordinate_uncertainty_m")
		_, err = send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}, Settings: settings}))
		assert.ErrorContains(t, err, "settings.coordinate_uncertainty_m")
	}
}

func TestLayersAreListed(t *testing.T) {
	r, err := serveWater(t).water.ListLayers(t.Context(), &waterv1.ListLayersRequest{})
	require.NoError(t, err)
	require.Len(t, r.Layers, 1)
	l := r.Layers[0]
	assert.Equal(t, "creek", l.Ref.Name)
	assert.Len(t, l.Ref.Digest, 64)
	assert.EqualValues(t, 3, l.Features)
	assert.EqualValues(t, 1+4+1, l.Edges)
	covered := map[commonv1.WaterClass]bool{}
	for _, c := range l.Coverages {
		covered[c.WaterClass] = len(c.Area) > 0
	}
	assert.Equal(t, map[commonv1.WaterClass]bool{
		commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM: true, commonv1.WaterClass_WATER_CLASS_LAKE: true,
		commonv1.WaterClass_WATER_CLASS_WETLAND: true, commonv1.WaterClass_WATER_CLASS_WELL: false,
	}, covered)
}

func TestDistancesAreMeasured(t *testing.T) {
	c := serveWater(t)
	r, err := c.water.MeasureDistance(t.Context(), &waterv1.MeasureDistanceRequest{
		LatitudeDeg: northOfStream(40), LongitudeDeg: eastLongitude, CoordinateUncertaintyM: 5, WithinM: 100,
	})
	require.NoError(t, err)
	assert.InDelta(t, 35, computedOf(r.Distances, commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM).GetDistanceM(), 0.1)
	lake := computedOf(r.Distances, commonv1.WaterClass_WATER_CLASS_LAKE)
	assert.True(t, lake.GetAtLeast())
	assert.InDelta(t, 100, lake.GetDistanceM(), 5.1)
	assert.Contains(t, r.Unknown, commonv1.WaterClass_WATER_CLASS_SPRING)
	assert.NotContains(t, r.Unknown, commonv1.WaterClass_WATER_CLASS_LAKE)

	for field, q := range map[string]*waterv1.MeasureDistanceRequest{
		"latitude_deg":             {LatitudeDeg: 91, WithinM: 1},
		"longitude_deg":            {LongitudeDeg: math.NaN(), WithinM: 1},
		"coordinate_uncertainty_m": {WithinM: 1},
		"within_m":                 {WithinM: 0},
		"outline[0].latitude_deg":  {WithinM: 1, Outline: []*treatmentv1.Ring{{}}},
		"outline[0].hole":          {WithinM: 1, Outline: []*treatmentv1.Ring{{LatitudeDeg: []float64{0, 0, 1}, LongitudeDeg: []float64{0, 1, 1}, Hole: true}}},
	} {
		_, err := c.water.MeasureDistance(t.Context(), q)
		assert.Equal(t, codes.InvalidArgument, status.Code(err), field)
		assert.ErrorContains(t, err, field)
	}
	_, err = c.water.MeasureDistance(t.Context(), &waterv1.MeasureDistanceRequest{WithinM: 10_001})
	assert.ErrorContains(t, err, "within_m")
}

// What lies in a ring is of the patch, unless the ring is said to be a hole.
func TestHolesOfPatches(t *testing.T) {
	c := serveWater(t)
	aboutTheLake := func(metres float64, hole bool) *treatmentv1.Ring {
		lat, lon := metres/metresPerDegree, metres/70_000
		south, north, west, east := 44.005-lat, 44.006+lat, -76.001-lon, -76.0+lon
		return &treatmentv1.Ring{LatitudeDeg: []float64{south, south, north, north}, LongitudeDeg: []float64{west, east, east, west}, Hole: hole}
	}
	for want, outline := range map[float64][]*treatmentv1.Ring{0: {aboutTheLake(60, false), aboutTheLake(40, false)}, 35: {aboutTheLake(60, false), aboutTheLake(40, true)}} {
		r, err := c.water.MeasureDistance(t.Context(), &waterv1.MeasureDistanceRequest{LatitudeDeg: 44, CoordinateUncertaintyM: 5, WithinM: 100, Outline: outline})
		require.NoError(t, err)
		assert.InDelta(t, want, computedOf(r.Distances, commonv1.WaterClass_WATER_CLASS_LAKE).GetDistanceM(), 0.1)
	}
}

func TestAServerWithoutLayers(t *testing.T) {
	law := fullLaw(t)
	c := serveAll(t, api.Services{Current: func() api.Law { return law }, Water: func() *water.Layers { return nil }})
	_, err := c.water.MeasureDistance(t.Context(), &waterv1.MeasureDistanceRequest{WithinM: 10})
	assert.Equal(t, codes.FailedPrecondition, status.Code(err))
	assert.ErrorContains(t, err, "--water")
	r, err := c.water.ListLayers(t.Context(), &waterv1.ListLayersRequest{})
	require.NoError(t, err)
	assert.Empty(t, r.Layers)
	p, e := one(t, c, sprayed(northOfStream(10), 0.001), nil)
	assert.Empty(t, p.ComputedWater)
	assert.Equal(t, commonv1.Decision_DECISION_UNDETERMINED, foliarDecision(e), "as for any row that states no distances")

	without := serve(t, func() api.Law { return law })
	_, err = without.water.ListLayers(t.Context(), &waterv1.ListLayersRequest{})
	assert.Equal(t, codes.Unimplemented, status.Code(err))
}
