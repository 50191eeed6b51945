package command_test

import (
	"context"
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// keeper answers for one site, and keeps what it was sent last.
type keeper struct {
	campaignv1.UnimplementedCampaignServiceServer
	progress *campaignv1.Progress
	visit    *campaignv1.Visit
	mask     []string
}

func (k *keeper) GetProgress(_ context.Context, q *campaignv1.GetProgressRequest) (*campaignv1.GetProgressResponse, error) {
	p := proto.CloneOf(k.progress)
	p.Name, p.Date = q.GetName(), q.GetDate()
	return &campaignv1.GetProgressResponse{Progress: p}, nil
}

func (k *keeper) CreateVisit(_ context.Context, q *campaignv1.CreateVisitRequest) (*campaignv1.CreateVisitResponse, error) {
	k.visit = q.GetVisit()
	v := proto.CloneOf(k.visit)
	v.Name, v.Version, v.Looked = q.GetParent()+"/visits/"+q.GetVisitId(), 1, "not enough looked: searched 10 minutes, of at least 60 for 1 ha: search longer"
	v.Breaches = []string{`felled "a" on 2026-09-01, before 2026-11-15`}
	return &campaignv1.CreateVisitResponse{Visit: v}, nil
}

func (k *keeper) UpdateVisit(_ context.Context, q *campaignv1.UpdateVisitRequest) (*campaignv1.UpdateVisitResponse, error) {
	k.visit, k.mask = q.GetVisit(), q.GetUpdateMask().GetPaths()
	return &campaignv1.UpdateVisitResponse{Visit: k.visit}, nil
}

func (k *keeper) ListVisits(_ context.Context, q *campaignv1.ListVisitsRequest) (*campaignv1.ListVisitsResponse, error) {
	if q.GetPageToken() == "" {
		return &campaignv1.ListVisitsResponse{Visits: []*campaignv1.Visit{{Name: q.GetParent() + "/visits/one", Version: 2, Date: dateOf(2027, 7, 1)}}, NextPageToken: "on"}, nil
	}
	return &campaignv1.ListVisitsResponse{Visits: []*campaignv1.Visit{{Name: q.GetParent() + "/visits/two", Version: 1, Date: dateOf(2028, 7, 1)}}}, nil
}

// serve listens until the test ends, on a port of its own.
func (k *keeper) serve(t *testing.T) string { return serveCampaigns(t, k) }

func dateOf(year, month, day int32) *date.Date { return &date.Date{Year: year, Month: month, Day: day} }

func some(v float64) *float64 { return &v }

// fighting is a site in its third year. The expected numbers are 91.7 percent of 412
// (T18: Arboriculture & Urban Forestry 33(1), January 2007, pp. 57-59) and thereabouts.
func fighting() *campaignv1.Progress {
	minutes := int64(84)
	square := func(at float64, turns ...int) *treatmentv1.Ring {
		r := &treatmentv1.Ring{LatitudeDeg: []float64{40, 40, 40 + at, 40 + at, 40}, LongitudeDeg: []float64{-75, -75 + at, -75 + at, -75, -75}}
		if len(turns) > 0 {
			r.LatitudeDeg, r.LongitudeDeg = []float64{40, 40 + at, 40 + at, 40, 40}, []float64{-75, -75, -75 + at, -75 + at, -75}
		}
		return r
	}
	return &campaignv1.Progress{
		State: campaignv1.SiteState_SITE_STATE_TO_RETREAT, CleanSeasonsWanted: 3,
		Steps:       []*campaignv1.Step{{What: "plan 2 rows", From: dateOf(2028, 7, 1), Why: "no plan treats them"}, {What: "inspect", From: dateOf(2029, 6, 1), Until: dateOf(2029, 9, 30), Why: "suckers and survivors show in the growing season that follows on treatment"}},
		NotFinished: []string{"2 live rows are to be treated", "0 of 3 clean growing seasons in a row"},
		Seasons:     []*campaignv1.GrowingSeason{{Year: 2026, State: "treated", Why: "treated: counting begins with the next season"}, {Year: 2027, State: "not looked", Why: "nobody looked"}, {Year: 2028, State: "found", Why: "visit sites/north-bank/visits/june of 2028-06-20 found something alive"}},
		Treated:     []*date.Date{dateOf(2026, 8, 10)},
		Decline: []*campaignv1.DeclinePoint{
			{Date: dateOf(2026, 7, 1), Source: "sites/north-bank/surveys/first", Stems: some(412), BasalAreaFt2: some(38.25), Verdict: "not known"},
			{Date: dateOf(2027, 9, 30), Gap: "2027", Verdict: "not known"},
			{Date: dateOf(2028, 6, 20), Source: "sites/north-bank/visits/june", Stems: some(71), ExpectedStemsLow: some(23), ExpectedStemsHigh: some(46), Verdict: "worse than expected", Remarks: []string{"Were stems missed?"}},
		},
		Felling:        []*campaignv1.FellingDate{{StemId: "a", From: dateOf(2028, 11, 15), Until: dateOf(2029, 4, 30), Why: "30 days after the treatment of 2026-08-10"}, {StemId: "b", Why: "seen alive on 2028-06-20"}},
		InspectionArea: &campaignv1.InspectionArea{RadiusM: 15.24, AreaM2: some(14_000), SearchMin: &minutes, Rings: []*treatmentv1.Ring{square(0.002), square(0.0005, -1)}, Places: []*campaignv1.InspectionPlace{{StemId: "a", LatitudeDeg: 40.001, LongitudeDeg: -74.999, State: "alive"}}},
		Totals:         []*campaignv1.YearTotal{{Active: "glyphosate", Year: 2028, AppliedAeG: some(120.5), LimitAeG: some(4000), LeftAeG: 3879.5, Counted: "treated ground", Source: "federal/glyphosate"}},
		ToMend:         []string{"sites/north-bank/records/r1 lacks lot_number, which federal/record asks for"},
		Due:            []*campaignv1.DueRow{{StemId: "s1", Kind: campaignv1.FindKind_FIND_KIND_ROOT_SUCKER, Date: dateOf(2028, 6, 20), Why: "treat again: a sucker lives on a root that is not dead", Outcome: treatmentv1.Outcome_OUTCOME_DEFERRED, Treatment: "Not on 2028-07-01. Low volume foliar with glyphosate would be next, but: not in season.", TreatFrom: dateOf(2028, 7, 15), TreatUntil: dateOf(2028, 10, 15)}},
	}
}

func TestProgressIsShownAndDrawn(t *testing.T) {
	server := (&keeper{progress: fighting()}).serve(t)
	folder := t.TempDir()
	svg, area, collection := filepath.Join(folder, "decline.svg"), filepath.Join(folder, "map.svg"), filepath.Join(folder, "area.geojson")
	got := direct(t, "progress", "sites/north-bank", "--date", "2028-07-01", "--server", server, "--out-svg", svg, "--out-map", area, "--out-geojson", collection)
	require.Zero(t, got.code, got.stderr)
	golden(t, "site_progress.txt", got.stdout)
	for _, path := range []string{svg, area} {
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		var any struct {
			Title string `xml:"title"`
		}
		require.NoError(t, xml.Unmarshal(content, &any))
		assert.Contains(t, any.Title, "sites/north-bank")
	}
	// RFC 7946: a gap is a ring of the polygon that it lies in.
	content, err := os.ReadFile(collection)
	require.NoError(t, err)
	var feature struct {
		Geometry struct {
			Type        string
			Coordinates [][][][2]float64
		}
	}
	require.NoError(t, json.Unmarshal(content, &feature))
	assert.Equal(t, "MultiPolygon", feature.Geometry.Type)
	require.Len(t, feature.Geometry.Coordinates, 1)
	assert.Len(t, feature.Geometry.Coordinates[0], 2)
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, 3, "nothing is left half written")

	got = direct(t, "progress", "sites/north-bank", "--date", "2028-07-01", "--server", server, "--json")
	assert.True(t, json.Valid([]byte(got.stdout)), got.stdout)
}

func TestWhereToLookSaysWhatWidensIt(t *testing.T) {
	p := fighting()
	server := (&keeper{progress: p}).serve(t)
	shown := func(flags ...string) string {
		got := direct(t, append([]string{"progress", "sites/north-bank", "--date", "2028-07-01", "--server", server}, flags...)...)
		require.Zero(t, got.code, got.stderr)
		return got.stdout
	}
	assert.NotContains(t, shown(), "widened")
	p.InspectionArea.UncertaintyM, p.InspectionArea.UncertainStemId = some(417.576), "t1"
	contains(t, shown(), "widened by how far off positions may be, up to 1370.0 ft round t1", "more decimals")
	contains(t, shown("--units", "metric"), "up to 417.6 m round t1")
}

func TestWhatHasNoPositionIsNotDrawn(t *testing.T) {
	p := fighting()
	p.InspectionArea = &campaignv1.InspectionArea{RadiusM: 15.24, WithoutPosition: []string{"a"}, Unknown: "the inspection area is not known: no position of a: measure it"}
	server := (&keeper{progress: p}).serve(t)
	got := direct(t, "progress", "sites/north-bank", "--date", "2028-07-01", "--server", server)
	contains(t, got.stdout, "! the inspection area is not known: no position of a: measure it")
	path := filepath.Join(t.TempDir(), "map.svg")
	for _, flag := range []string{"--out-map", "--out-geojson"} {
		got = direct(t, "progress", "sites/north-bank", "--date", "2028-07-01", "--server", server, flag, path)
		assert.NotZero(t, got.code)
		contains(t, got.stderr, "no treated stem has a position")
		assert.NoFileExists(t, path)
	}
}

func TestVisitsFromTheCommandLine(t *testing.T) {
	k := &keeper{}
	server := k.serve(t)
	file := filepath.Join(t.TempDir(), "visit.yaml")
	require.NoError(t, os.WriteFile(file, []byte("kind: VISIT_KIND_FELLING\ndate: {year: 2026, month: 9, day: 1}\nfelled_stem_ids: [a]\n"), 0o644))
	got := direct(t, "visits", "add", "sites/north-bank", "fell", "--file", file, "--server", server)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "sites/north-bank/visits/fell version 1 2026-09-01 0 found, 1 felled", "not enough looked", `! felled "a" on 2026-09-01`)
	assert.Equal(t, []string{"a"}, k.visit.GetFelledStemIds())

	require.NoError(t, os.WriteFile(file, []byte("notes: more\ncorrection: forgotten\n"), 0o644))
	got = direct(t, "visits", "correct", "sites/north-bank/visits/fell", "--file", file, "--server", server)
	require.Zero(t, got.code, got.stderr)
	assert.ElementsMatch(t, []string{"notes", "correction"}, k.mask)
	got = direct(t, "visits", "list", "sites/north-bank", "--server", server)
	assert.Equal(t, 2, strings.Count(got.stdout, "sites/north-bank/visits/"))

	suckers := filepath.Join(t.TempDir(), "suckers.csv")
	const head = "occurrenceID,scientificName,locationID,place,form\n"
	require.NoError(t, os.WriteFile(file, []byte("kind: VISIT_KIND_INSPECTION\ndate: {year: 2027, month: 7, day: 1}\n"), 0o644))
	require.NoError(t, os.WriteFile(suckers, []byte(head+"s1,Ailanthus altissima,north-bank,us/velmora,root_sucker\ns2,Ailanthus altissima,north-bank,us/velmora,root_sucker\n"), 0o644))
	got = direct(t, "visits", "add", "sites/north-bank", "july", "--file", file, "--found", "root_sucker="+suckers, "--server", server)
	require.Zero(t, got.code, got.stderr)
	require.Len(t, k.visit.GetFound(), 2)
	assert.Equal(t, campaignv1.FindKind_FIND_KIND_ROOT_SUCKER, k.visit.GetFound()[1].GetKind())
	assert.Equal(t, "s2", k.visit.GetFound()[1].GetStem().GetStemId())
	require.NoError(t, os.WriteFile(suckers, []byte(head+"s1,Ailanthus altissima,north-bank,us/velmora,root_sucker\ns2,Ailanthus altissima,south-bank,us/velmora,bush\n"), 0o644))
	got = direct(t, "visits", "add", "sites/north-bank", "july", "--file", file, "--found", "root_sucker="+suckers, "--server", server)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, `"south-bank" follows on "north-bank": split the file by site`, "line 3, column form")
	for _, wrong := range []string{"thing=" + suckers, "root_sucker", "unspecified=" + suckers} {
		assert.Equal(t, 2, direct(t, "visits", "add", "sites/north-bank", "july", "--file", file, "--found", wrong, "--server", server).code, wrong)
	}

	require.NoError(t, os.WriteFile(file, []byte("kind: SOMETHING\n"), 0o644))
	got = direct(t, "visits", "add", "sites/north-bank", "fell", "--file", file, "--server", server)
	assert.Equal(t, 2, got.code)
}
