package api_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

func begin(b *treatmentv1.StreamBegin) *treatmentv1.PrescribeStreamRequest {
	return &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{Begin: b}}
}

func chunk(c *treatmentv1.StemChunk) *treatmentv1.PrescribeStreamRequest {
	return &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: c}}
}

func more(sites ...*treatmentv1.Site) *treatmentv1.PrescribeStreamRequest {
	return &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Sites{Sites: &treatmentv1.StreamSites{Sites: sites}}}
}

// send sends the messages of one stream and gives its answers, or its error.
func send(tb testing.TB, c clients, messages ...*treatmentv1.PrescribeStreamRequest) ([]*treatmentv1.PrescribeStreamResponse, error) {
	tb.Helper()
	stream, err := c.PrescribeStream(tb.Context())
	require.NoError(tb, err)
	var answers []*treatmentv1.PrescribeStreamResponse
	receive := func() error {
		a, err := stream.Recv()
		if err == nil {
			answers = append(answers, a)
		}
		return err
	}
	for _, m := range messages {
		if stream.Send(m) != nil {
			break // the error is what Recv gives
		}
		if m.GetChunk() != nil {
			if err := receive(); err != nil {
				return answers, err
			}
		}
	}
	if err := stream.CloseSend(); err != nil {
		return answers, err
	}
	for {
		if err := receive(); errors.Is(err, io.EOF) {
			return answers, nil
		} else if err != nil {
			return answers, err
		}
	}
}

// streamed prescribes stems of one site in chunks.
func streamed(tb testing.TB, c clients, site *treatmentv1.Site, stems []*treatmentv1.Stem, size int) *answered {
	tb.Helper()
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}})}
	first := int64(1)
	for part := range slices.Chunk(stems, size) {
		messages = append(messages, chunk(chunkOf(first, site.SiteId, part)))
		first += int64(len(part))
	}
	answers, err := send(tb, c, messages...)
	require.NoError(tb, err)
	require.Len(tb, answers, len(messages), "an answer a chunk, then the summary")
	r := &answered{Summary: answers[len(answers)-1].GetSummary()}
	var ids []string
	for _, s := range stems {
		ids = append(ids, s.StemId)
	}
	for _, a := range answers[:len(answers)-1] {
		list := rowsOf(a.GetChunk(), ids)
		r.Prescriptions, ids = append(r.Prescriptions, list...), ids[len(list):]
	}
	return r
}

func prescribed(tb testing.TB, c clients, site *treatmentv1.Site, stems []*treatmentv1.Stem) *answered {
	tb.Helper()
	r, err := c.Prescribe(tb.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: stems})
	require.NoError(tb, err)
	return answeredBy(r)
}

func answeredBy(r *treatmentv1.PrescribeResponse) *answered {
	a := &answered{Summary: r.Summary}
	for _, p := range r.Prescriptions {
		row := &answeredRow{Prescription: p}
		if p.Explanation != nil {
			row.Explanation = r.Explanations[*p.Explanation]
		}
		p.Explanation = nil // where it stands in the answer is no part of it
		a.Prescriptions = append(a.Prescriptions, row)
	}
	return a
}

// answered is an answer whose rows hold their own explanations.
type answered struct {
	Prescriptions []*answeredRow
	Summary       *treatmentv1.Summary
}

type answeredRow struct {
	*treatmentv1.Prescription
	Explanation *treatmentv1.Explanation
}

func requireSameRow(tb testing.TB, want, got *answeredRow) {
	tb.Helper()
	requireSame(tb, want.Prescription, got.Prescription)
	requireSame(tb, want.Explanation, got.Explanation)
}

func requireSame(tb testing.TB, want, got proto.Message) {
	tb.Helper()
	if !proto.Equal(want, got) {
		require.Equal(tb, prototext.Format(want), prototext.Format(got))
	}
}

// A doubt about the measures of one row among others is told of that row alone.
func TestAStreamTellsOfDoubtfulMeasuresAsPrescribeDoes(t *testing.T) {
	c := serveFull(t)
	var stems []*treatmentv1.Stem
	for _, height := range []float64{5, 5, 60, 5} { // 60 m on 6 cm
		s := goodStem()
		s.StemId, s.HeightM = fmt.Sprint(len(stems)+1), ptr(height)
		stems = append(stems, s)
	}
	byRow, byChunk := prescribed(t, c, goodSite(), stems), streamed(t, c, goodSite(), stems, 3)
	for i, want := range byRow.Prescriptions {
		requireSameRow(t, want, byChunk.Prescriptions[i])
		assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, want.Outcome)
		told := slices.ContainsFunc(want.Explanation.Cautions, func(c string) bool { return strings.HasPrefix(c, "Check diameter and height") })
		assert.Equal(t, i == 2, told, want.Explanation.Cautions)
	}
}

// Who asks for a dose or a method alone hears of it, too.
func TestDoseAndMethodTellOfDoubtfulMeasures(t *testing.T) {
	c := serveFull(t)
	for height, of := range map[float64][]string{5: nil, 60: {"Check diameter and height and their units before anything is mixed"}} {
		s := goodStem()
		s.HeightM = &height
		dose, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: s, Method: commonv1.Method_METHOD_HACK_AND_SQUIRT, FormulationId: "glyphosate-ipa-3"})
		require.NoError(t, err)
		choice, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: s})
		require.NoError(t, err)
		for _, told := range [][]string{dose.Cautions, choice.Cautions} {
			require.Len(t, told, len(of))
			for i := range of {
				assert.Contains(t, told[i], of[i])
			}
		}
	}
}

func TestStreamAnswersAsPrescribeDoes(t *testing.T) {
	c := serveFacts(t)
	stems := newDraw(1).stems(2_000)
	byRow := prescribed(t, c, goodSite(), stems)
	outcomes := map[treatmentv1.Outcome]int{}
	for _, p := range byRow.Prescriptions {
		outcomes[p.Outcome]++
	}
	require.Len(t, outcomes, 4, "the drawn stems have every outcome: %v", outcomes)
	for _, size := range []int{1, 7, 256, 2_000} {
		byColumn := streamed(t, c, goodSite(), stems, size)
		require.Len(t, byColumn.Prescriptions, len(stems))
		for i := range stems {
			requireSameRow(t, byRow.Prescriptions[i], byColumn.Prescriptions[i])
		}
		requireSame(t, byRow.Summary, byColumn.Summary)
	}
}

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	c := serveFull(t)
	stems := newDraw(2).stems(1_000)
	for i, s := range stems {
		s.StemId = string(rune('a'+i%26)) + s.StemId // no two alike, and none empty
	}
	inOrder := streamed(t, c, goodSite(), stems, 100)
	sorted := answersByID(inOrder)
	rand.New(rand.NewPCG(3, 3)).Shuffle(len(stems), func(i, j int) { stems[i], stems[j] = stems[j], stems[i] })
	for _, answer := range []*answered{streamed(t, c, goodSite(), stems, 130), prescribed(t, c, goodSite(), stems)} {
		shuffled := answersByID(answer)
		require.Len(t, shuffled, len(sorted))
		for id, want := range sorted {
			requireSameRow(t, want, shuffled[id])
		}
		requireSame(t, inOrder.Summary, answer.Summary)
	}
}

func answersByID(r *answered) map[string]*answeredRow {
	byID := map[string]*answeredRow{}
	for _, p := range r.Prescriptions {
		byID[p.StemId] = p
	}
	return byID
}

// A row's words must not be those of another row that only looks like it.
func TestSharedExplanationsAreTheRowsOwn(t *testing.T) {
	c := serveFull(t)
	stems := newDraw(4).stems(600)
	together := prescribed(t, c, goodSite(), stems)
	for i, s := range stems {
		alone := prescribed(t, c, goodSite(), []*treatmentv1.Stem{s})
		requireSameRow(t, alone.Prescriptions[0], together.Prescriptions[i])
	}
}

func TestASplitSiteIsTheSameInBoth(t *testing.T) {
	c := serveFull(t)
	small := goodSite()
	small.AreaM2 = ptr(400.0) // about a tenth of an acre
	var stems []*treatmentv1.Stem
	for i, s := range newDraw(5).stems(400) {
		one := goodStem()
		one.StemId, one.DiameterCm, one.SeedBearing = s.StemId+string(rune('a'+i%26)), ptr(4+float64(i%8)), s.SeedBearing
		stems = append(stems, one)
	}
	byRow := prescribed(t, c, small, stems)
	uses := byRow.Summary.SiteUses
	require.NotEmpty(t, uses)
	require.Greater(t, uses[0].Seasons, int64(1), "the site is split")
	require.Positive(t, byRow.Summary.Totals.Deferred)

	first := streamed(t, c, small, stems, 64).Summary
	for _, u := range first.SiteUses {
		if u.Share != nil {
			small.SeasonShares = append(small.SeasonShares, u.Share)
		}
	}
	byColumn := streamed(t, c, small, stems, 64)
	for i := range stems {
		requireSameRow(t, byRow.Prescriptions[i], byColumn.Prescriptions[i])
	}
	requireSame(t, byRow.Summary, byColumn.Summary)
	assert.LessOrEqual(t, uses[0].UsedLbAePerAc, uses[0].LimitLbAePerAc)
}

func TestRowsOfUnknownSitesAreRejected(t *testing.T) {
	c := serveFull(t)
	rows := chunkOf(1, "elsewhere", []*treatmentv1.Stem{goodStem(), goodStem()})
	rows.Site[1] = -1
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), chunk(rows))
	require.NoError(t, err)
	for i, named := range []string{"elsewhere", ""} {
		got := rowsOf(answers[0].GetChunk(), columnar.IDs(rows))[i]
		assert.Equal(t, treatmentv1.Outcome_OUTCOME_REJECTED, got.Outcome)
		require.Len(t, got.Faults, 1)
		assert.Equal(t, "site_id", got.Faults[0].Field)
		assert.Contains(t, got.Faults[0].Problem, fmt.Sprintf("%q is none of the sites", named))
	}
	assert.Equal(t, int64(2), answers[1].GetSummary().Totals.Rejected)
}

// Sites that are stated later hold for the chunks behind them, at their own place and with all
// that is stated of them, and stand in the summary behind those that were stated before.
func TestSitesMayBeStatedLater(t *testing.T) {
	c := serveFull(t)
	site := func(id, place string) *treatmentv1.Site {
		s := goodSite()
		s.SiteId, s.Place = id, place
		return s
	}
	rows := func(first int64, at ...string) *treatmentv1.PrescribeStreamRequest {
		stems := make([]*treatmentv1.Stem, len(at))
		for i := range at {
			stems[i] = goodStem()
		}
		list := chunkOf(first, "", stems)
		for i, id := range at {
			list.Words = append(list.Words, id)
			list.Site[i] = int32(len(list.Words) - 1)
		}
		return chunk(list)
	}
	const prescribed, undetermined, rejected = byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED), byte(treatmentv1.Outcome_OUTCOME_UNDETERMINED), byte(treatmentv1.Outcome_OUTCOME_REJECTED)
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site("c", district)}}),
		rows(1, "c", "a", "b"), more(site("a", district)), rows(4, "c", "a", "b"), more(site("b", "us/elsewhere")), more(site("unused", district)), rows(7, "c", "a", "b"))
	require.NoError(t, err)
	require.Len(t, answers, 4)
	assert.Equal(t, []byte{prescribed, rejected, rejected}, answers[0].GetChunk().Outcome)
	assert.Equal(t, []byte{prescribed, prescribed, rejected}, answers[1].GetChunk().Outcome)
	assert.Equal(t, []byte{prescribed, prescribed, undetermined}, answers[2].GetChunk().Outcome)
	var uses []string
	for _, u := range answers[3].GetSummary().GetSiteUses() {
		uses = append(uses, u.GetSiteId())
	}
	assert.Equal(t, []string{"c", "a"}, slices.Compact(uses))
}

// What is wrong with sites that are stated later ends the stream, behind the answers to the
// chunks before them.
func TestSitesStatedLaterAreCheckedAsThoseOfTheBeginning(t *testing.T) {
	b := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	rows := chunk(chunkOf(1, goodSite().SiteId, []*treatmentv1.Stem{goodStem()}))
	other := goodSite()
	other.SiteId, other.AreaM2 = "other", ptr(-1.0)
	many := make([]*treatmentv1.Site, 100_000)
	for i := range many {
		many[i] = &treatmentv1.Site{SiteId: fmt.Sprint(i), Place: district}
	}
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	for i, c := range everyCodec(t, api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})) {
		for _, wrong := range []struct {
			sites  []*treatmentv1.Site
			fields []string
		}{
			{nil, []string{"sites"}},
			{[]*treatmentv1.Site{goodSite()}, []string{"sites[1].site_id"}},
			{[]*treatmentv1.Site{other, {SiteId: "third"}, other}, []string{"sites[1].area_m2", "sites[2].place", "sites[3].area_m2", "sites[3].site_id"}},
		} {
			answers, err := send(t, c, b, rows, more(wrong.sites...), chunk(chunkOf(2, goodSite().SiteId, []*treatmentv1.Stem{goodStem()})))
			requireViolations(t, err, wrong.fields...)
			assert.Len(t, answers, 1, i)
		}
		_, err := send(t, c, b, rows, more(many[1:]...), more(many[0]))
		requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "sites in all")
		answers, err := send(t, c, b, more(many[1:]...), rows)
		require.NoError(t, err)
		assert.Len(t, answers, 2, i)
		_, err = send(t, c, b, more(many[1:]...), more())
		requireViolations(t, err, "sites")
	}
}

// What is stated of sites takes no more memory in many messages than one could bring.
func TestBytesOfSitesAreLimited(t *testing.T) {
	c := serveFull(t)
	large := func(id string) *treatmentv1.Site {
		s := goodSite()
		s.SiteId = id
		for i := range 1_000 {
			s.GrantedReductions = append(s.GrantedReductions, fmt.Sprintf("%s/%04d", strings.Repeat("x", 90), i))
		}
		return s
	}
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})}
	for i := range 6 {
		var list []*treatmentv1.Site
		for n := range 30 {
			list = append(list, large(fmt.Sprint(i, " ", n)))
		}
		messages = append(messages, more(list...))
	}
	_, err := send(t, c, messages...)
	requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "17 MB of sites")
	_, err = send(t, c, messages[:5]...)
	require.NoError(t, err)
}

// Which rows name a site that is stated does not depend on when they are decided: rows that were
// sent before it never do.
func TestSitesHoldForTheChunksBehindThem(t *testing.T) {
	c := serveFull(t)
	api.Propose(t, 4)
	late := goodSite()
	late.SiteId = "late"
	stems := slices.Repeat([]*treatmentv1.Stem{goodStem()}, 50)
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})}
	for i := range int64(6) {
		if i == 3 {
			messages = append(messages, more(late))
		}
		messages = append(messages, chunk(chunkOf(50*i+1, late.SiteId, stems)))
	}
	for range 60 {
		for i, a := range pipelined(t, c, messages)[:6] {
			want := treatmentv1.Outcome_OUTCOME_REJECTED
			if i >= 3 {
				want = treatmentv1.Outcome_OUTCOME_PRESCRIBED
			}
			require.Equal(t, bytes.Repeat([]byte{byte(want)}, 50), a.GetChunk().Outcome, i)
		}
	}
}

// Sites that are refused change nothing for the chunks before them.
func TestASiteThatIsStatedTwiceDoesNotTouchTheFirst(t *testing.T) {
	c := serveFull(t)
	api.Propose(t, 4)
	again := goodSite()
	again.Place = "us/elsewhere"
	stems := slices.Repeat([]*treatmentv1.Stem{goodStem()}, 50)
	for range 60 {
		stream, err := c.PrescribeStream(t.Context())
		require.NoError(t, err)
		for _, m := range []*treatmentv1.PrescribeStreamRequest{
			begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}),
			chunk(chunkOf(1, goodSite().SiteId, stems)), more(again),
		} {
			require.NoError(t, stream.Send(m))
		}
		a, err := stream.Recv()
		require.NoError(t, err)
		require.Equal(t, bytes.Repeat([]byte{byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED)}, 50), a.GetChunk().Outcome)
		_, err = stream.Recv()
		requireViolations(t, err, "sites[1].site_id")
	}
}

func TestRowsAtUnknownPlacesAreUndetermined(t *testing.T) {
	c := serveFull(t)
	for _, place := range []string{"us/elsewhere", "xx", "Not A Place"} {
		site := goodSite()
		site.Place = place
		got := streamed(t, c, site, []*treatmentv1.Stem{goodStem()}, 1)
		assert.Equal(t, treatmentv1.Outcome_OUTCOME_UNDETERMINED, got.Prescriptions[0].Outcome, place)
		assert.NotEmpty(t, got.Prescriptions[0].Explanation.Remedies, place)
		assert.Nil(t, got.Prescriptions[0].Dose, place)
	}
}

func TestEachSiteIsDecidedByItsOwnPlace(t *testing.T) {
	c := serveFull(t)
	here, there := goodSite(), goodSite()
	there.SiteId, there.Place = "abroad", "us/elsewhere"
	rows := chunkOf(1, here.SiteId, []*treatmentv1.Stem{goodStem(), goodStem()})
	rows.Words = append(rows.Words, there.SiteId)
	rows.Site[1] = int32(len(rows.Words) - 1)
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{here, there}}), chunk(rows))
	require.NoError(t, err)
	assert.Equal(t, []byte{byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED), byte(treatmentv1.Outcome_OUTCOME_UNDETERMINED)}, answers[0].GetChunk().Outcome)
	var sets []string
	for _, r := range answers[1].GetSummary().RuleSets {
		sets = append(sets, r.RuleSetId)
	}
	assert.Equal(t, []string{"nation", "velmora", "ossel-creek"}, sets)
}

// A stream is decided to its end by the law that held when it began.
func TestAStreamKeepsItsLaw(t *testing.T) {
	var held atomic.Pointer[api.Law]
	held.Store(ptr(fullLaw(t)))
	c := serve(t, func() api.Law { return *held.Load() })
	stream, err := c.PrescribeStream(t.Context())
	require.NoError(t, err)
	require.NoError(t, stream.Send(begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})))
	outcome := func(first int64) treatmentv1.Outcome {
		require.NoError(t, stream.Send(chunk(chunkOf(first, goodSite().SiteId, []*treatmentv1.Stem{goodStem()}))))
		a, err := stream.Recv()
		require.NoError(t, err)
		return treatmentv1.Outcome(a.GetChunk().Outcome[0])
	}
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, outcome(1))
	held.Store(ptr(lawOf())) // the stream took its law before it answered the first chunk
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, outcome(2))
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_UNDETERMINED, prescribed(t, c, goodSite(), []*treatmentv1.Stem{goodStem()}).Prescriptions[0].Outcome)
}

func TestStreamsOutOfOrderFail(t *testing.T) {
	c := serveFull(t)
	b := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	rows := func(first int64) *treatmentv1.PrescribeStreamRequest {
		return chunk(chunkOf(first, goodSite().SiteId, []*treatmentv1.Stem{goodStem()}))
	}
	for name, messages := range map[string][]*treatmentv1.PrescribeStreamRequest{
		"nothing at all":    {},
		"rows first":        {rows(1)},
		"an empty message":  {{}},
		"begun twice":       {b, b},
		"empty after begin": {b, {}},
		"sites first":       {more(goodSite())},
	} {
		_, err := send(t, c, messages...)
		requireStatus(t, err, codes.FailedPrecondition, api.StreamOrder, name)
	}
	_, err := send(t, c, b, rows(1), rows(1))
	requireViolations(t, err, "chunk.first_row")
	_, err = send(t, c, b, rows(2))
	requireViolations(t, err, "chunk.first_row")
}

func TestMalformedChunksFail(t *testing.T) {
	c := serveFull(t)
	b := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	for name, tc := range map[string]struct {
		spoil func(*treatmentv1.StemChunk)
		want  []string
	}{
		"no rows": {func(c *treatmentv1.StemChunk) { *c = treatmentv1.StemChunk{FirstRow: 1} }, []string{"chunk.stem_id_ends"}},
		"ids that do not lie one behind the other": {func(c *treatmentv1.StemChunk) { c.StemIdEnds[0] = 1000 }, []string{"chunk.stem_id_ends[0]"}},
		"an id that ends within a character":       {func(c *treatmentv1.StemChunk) { columnar.SetIDs(c, "é", "b"); c.StemIdEnds[0] = 1 }, []string{"chunk.stem_id_ends[0]"}},
		"an id too few":                            {func(c *treatmentv1.StemChunk) { c.StemIds += "x" }, []string{"chunk.stem_id_ends[1]"}},
		"a column too short":                       {func(c *treatmentv1.StemChunk) { c.DiameterUm = c.DiameterUm[:1] }, []string{"chunk.diameter_um"}},
		"required columns missing": {
			func(c *treatmentv1.StemChunk) { c.Site, c.Species, c.Form = nil, nil, nil },
			[]string{"chunk.form", "chunk.site", "chunk.species"},
		},
		"indexes out of range": {
			func(c *treatmentv1.StemChunk) { c.Site[1], c.Species[0] = 99, -2 },
			[]string{"chunk.site[1]", "chunk.species[0]"},
		},
		"words that no row points to": {func(c *treatmentv1.StemChunk) { c.Words = append(c.Words, make([]string, 1_003)...) }, []string{"chunk.words"}},
		"a word too long":             {func(c *treatmentv1.StemChunk) { c.Words[0] = string(make([]byte, 201)) }, []string{"chunk.words[0]"}},
		"water": {
			func(c *treatmentv1.StemChunk) {
				c.Water = []*treatmentv1.WaterColumn{
					{WaterClass: 4, DistanceUm: []int64{1, 2}}, {WaterClass: 4, DistanceUm: []int64{1}},
					{WaterClass: 0, DistanceUm: []int64{1, 2}}, {WaterClass: 44, DistanceUm: []int64{1, 2}, Origin: make([]byte, 3)},
				}
			},
			[]string{"chunk.water[1].distance_um", "chunk.water[1].water_class", "chunk.water[2].water_class", "chunk.water[3].origin", "chunk.water[3].water_class"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			rows := chunkOf(1, goodSite().SiteId, []*treatmentv1.Stem{goodStem(), goodStem()})
			tc.spoil(rows)
			_, err := send(t, c, b, chunk(rows))
			requireViolations(t, err, tc.want...)
		})
	}
}

func TestStreamLimits(t *testing.T) {
	c := serveFull(t)
	_, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}),
		chunk(&treatmentv1.StemChunk{FirstRow: 1, StemIdEnds: make([]uint32, 65_537)}))
	requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "rows of a chunk")
	_, err = send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: slices.Repeat([]*treatmentv1.Site{{}}, 100_001)}))
	requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "sites")
	_, err = send(t, c, begin(&treatmentv1.StreamBegin{Sites: []*treatmentv1.Site{goodSite(), goodSite(), {}}}))
	requireViolations(t, err, "date", "sites[1].site_id", "sites[2].place", "sites[2].site_id")
}

// The answer to a chunk is the same whatever was answered before it, by the same stream
// or by others that sat at its desk, and holds no piece of an explanation twice.
func TestAChunkIsAnsweredAlikeWhateverCameBefore(t *testing.T) { answeredAlike(t) }

// So it is where desks have to drop most of what they know, time and again.
func TestAChunkIsAnsweredAlikeWhereLittleIsKept(t *testing.T) {
	for _, keep := range [][2]int{{120, 40_000}, {64_000, 150}, {60, 120}} {
		api.Keep(t, keep[0], keep[1], 3)
		answeredAlike(t)
	}
}

func answeredAlike(t *testing.T) {
	stems, site := newDraw(12).stems(6_000), goodSite()
	site.AreaM2 = ptr(4e6) // room for all
	parts := [][]*treatmentv1.Stem{stems[:2_000], stems[:500], stems[2_000:3_000], stems[3_000:], stems[:2_500]}
	used := serveFull(t)
	ask := func(c clients, parts ...[]*treatmentv1.Stem) (chunks []*treatmentv1.PrescriptionChunk) {
		messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}})}
		first := int64(1)
		for _, part := range parts {
			messages = append(messages, chunk(chunkOf(first, site.SiteId, part)))
			first += int64(len(part))
		}
		answers, err := send(t, c, messages...)
		require.NoError(t, err)
		for _, a := range answers[:len(parts)] {
			chunks = append(chunks, a.GetChunk())
		}
		return chunks
	}
	ask(used, slices.Concat(parts, parts)...)
	for i, got := range ask(used, parts...) {
		want := ask(serveFull(t), parts[i])[0]
		want.FirstRow = got.FirstRow
		for k := range got.SecondDoses {
			want.SecondDoses[k].Row = got.SecondDoses[k].Row
		}
		for k := range got.Rejections {
			want.Rejections[k].Row = got.Rejections[k].Row
		}
		requireSame(t, want, got)
		require.Greater(t, columnar.NumExplanations(got), 50)
		require.Greater(t, len(got.ExplanationPieces), 5*len(got.Pieces), "pieces are shared")
		seen := map[string]bool{}
		for _, p := range got.Pieces {
			require.False(t, seen[string(p)], "a piece is listed twice")
			seen[string(p)] = true
		}
	}
}

// A row takes nothing from the rows before it, in this chunk or another, not even where
// whole columns are wanting.
func TestARowTakesNothingFromTheRowsBefore(t *testing.T) {
	c, site := serveFull(t), goodSite()
	site.AreaM2 = ptr(4e6)
	full := newDraw(21).stems(300)
	bare := func(i int) *treatmentv1.Stem {
		return &treatmentv1.Stem{StemId: fmt.Sprint("bare-", i), ScientificName: goodStem().ScientificName, Form: commonv1.GrowthForm_GROWTH_FORM_TREE, DiameterCm: ptr(12.0)}
	}
	begun := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}})
	answer := func(parts ...[]*treatmentv1.Stem) (rows []*answeredRow) {
		messages, first := []*treatmentv1.PrescribeStreamRequest{begun}, int64(1)
		for _, part := range parts {
			k := chunkOf(first, site.SiteId, part)
			if part[0].Count == nil && part[0].HeightM == nil {
				bareOf := &treatmentv1.StemChunk{FirstRow: first, Words: k.Words, Site: k.Site, Species: k.Species, Form: k.Form, DiameterUm: k.DiameterUm}
				columnar.SetIDs(bareOf, columnar.IDs(k)...)
				k = bareOf
			}
			messages = append(messages, chunk(k))
			first += int64(len(part))
		}
		answers, err := send(t, c, messages...)
		require.NoError(t, err)
		for i, part := range parts {
			var ids []string
			for _, s := range part {
				ids = append(ids, s.StemId)
			}
			rows = append(rows, rowsOf(answers[i].GetChunk(), ids)...)
		}
		return rows
	}
	want := answer([]*treatmentv1.Stem{bare(0)})[0]
	got := answer(full, []*treatmentv1.Stem{bare(0), bare(0)}, full, []*treatmentv1.Stem{bare(0)})
	for _, i := range []int{len(full), len(full) + 1, 2*len(full) + 2} {
		requireSame(t, want.Prescription, got[i].Prescription)
		requireSame(t, want.Explanation, got[i].Explanation)
	}
	mixed := answer(slices.Concat(full[:1], []*treatmentv1.Stem{bare(0)}, full[1:2], []*treatmentv1.Stem{bare(0)}))
	for _, i := range []int{1, 3} {
		requireSame(t, want.Prescription, mixed[i].Prescription)
		requireSame(t, want.Explanation, mixed[i].Explanation)
	}
}

// A row with a word that is none is rejected by a stream as by Prescribe, in whichever
// column it stands.
func TestWordsThatAreNoneAreRejected(t *testing.T) {
	c := serveFull(t)
	site := goodSite()
	for _, word := range []byte{100, 137, 200, 255} {
		for name, spoil := range map[string]func(*treatmentv1.Stem, *treatmentv1.StemChunk){
			"form": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.Form, k.Form = commonv1.GrowthForm(word), []byte{word}
			},
			"desirable": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.Desirable, k.Desirable = commonv1.Desirable(word), []byte{word}
			},
			"land use": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.LandUse, k.LandUse = commonv1.LandUse(word), []byte{word}
			},
			"soil": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.Soil, k.Soil = commonv1.SoilState(word), []byte{word}
			},
			"bark": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.Bark, k.Bark = commonv1.BarkState(word), []byte{word}
			},
			"root check": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.RootCheck, k.RootCheck = commonv1.RootCheck(word), []byte{word}
			},
			"seed": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.SeedBearing, k.SeedBearing = commonv1.YesNo(word), []byte{word}
			},
			"origin": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.WaterDistances[0].Origin, k.Water[0].Origin = commonv1.DistanceOrigin(word), []byte{word}
			},
			"state": func(s *treatmentv1.Stem, k *treatmentv1.StemChunk) {
				s.WaterDistances[0].State, k.Water[0].State = commonv1.WaterState(word), []byte{word}
			},
		} {
			stem := goodStem()
			stem.WaterDistances = []*commonv1.WaterDistance{{WaterClass: commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM, DistanceM: 40}}
			k := chunkOf(1, site.SiteId, []*treatmentv1.Stem{stem})
			spoil(stem, k)
			rows, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: []*treatmentv1.Stem{stem}})
			require.NoError(t, err)
			require.Equal(t, treatmentv1.Outcome_OUTCOME_REJECTED, rows.Prescriptions[0].Outcome, "%s %d", name, word)
			answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}}), chunk(k))
			require.NoError(t, err)
			require.Equal(t, []byte{byte(treatmentv1.Outcome_OUTCOME_REJECTED)}, answers[0].GetChunk().Outcome, "%s %d", name, word)
		}
	}
}
