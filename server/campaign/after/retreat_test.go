package after_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/after"
)

// The window for treatment in New Jersey, mid-July to mid-October (T15: Rutgers Plant &
// Pest Advisory, tree-of-heaven timing).
var treating = yearly(time.July, 15, time.October, 15)

func TestRetreatments(t *testing.T) {
	o := after.Openings{Treat: []civil.Window{treating}, Leaf: summer}
	at := func(on string, finds ...after.Find) []after.Visit {
		return []after.Visit{visit(t, on, 60, all, finds...)}
	}
	find := func(id string, k after.Kind) after.Find { return after.Find{ID: id, Kind: k, Stems: 2} }
	for _, c := range []struct {
		name        string
		visits      []after.Visit
		treated     map[string][]civil.Date
		openings    after.Openings
		on          string
		from, until string
		act         after.Act
		why         string // empty: nothing is due
	}{
		{"T15: before the window", at("2027-06-10", find("a", after.RootSucker)), nil, o, "2027-06-10", "2027-07-15", "2027-10-15", after.TreatAgain, "a root that is not dead"},
		{"T15: within it", at("2027-08-01", find("a", after.Survivor)), nil, o, "2027-08-02", "2027-08-02", "2027-10-15", after.TreatAgain, "ask why"},
		{"T15: after it", at("2027-10-16", find("a", after.MissedStem)), nil, o, "2027-10-16", "2028-07-15", "2028-10-15", after.TreatAgain, "overlooked"},
		{"a window was missed", at("2027-08-01", find("a", after.StumpSprout)), nil, o, "2028-01-01", "2028-07-15", "2028-10-15", after.TreatAgain, "window has passed unused since it was found on 2027-08-01"},
		{"treated since", at("2027-08-01", find("a", after.StumpSprout)), map[string][]civil.Date{"a": days(t, "2027-08-01")}, o, "2028-01-01", "", "", 0, ""},
		{"treated before it was found", at("2027-08-01", find("a", after.StumpSprout)), map[string][]civil.Date{"a": days(t, "2026-08-01")}, o, "2027-08-01", "2027-08-01", "2027-10-15", after.TreatAgain, "sprouts"},
		{"treated on a day that is not known", at("2027-08-01", find("a", after.StumpSprout)), map[string][]civil.Date{"a": days(t, "")}, o, "2027-08-01", "2027-08-01", "2027-10-15", after.TreatAgain, "sprouts"},
		{"no id: nothing settles it", at("2027-08-01", find("", after.RootSucker)), map[string][]civil.Date{"": days(t, "2027-08-02")}, o, "2027-08-03", "2027-08-03", "2027-10-15", after.TreatAgain, "sucker"},
		{"dead", at("2027-08-01", find("a", after.Dead)), nil, o, "2027-08-01", "", "", 0, ""},
		{"found dead later", append(at("2027-08-01", find("a", after.Survivor)), at("2028-06-10", find("a", after.Dead))...), nil, o, "2028-06-10", "", "", 0, ""},
		{"found alive later", append(at("2028-06-10", find("a", after.Survivor)), at("2027-08-01", find("a", after.Dead))...), nil, o, "2028-06-10", "2028-07-15", "2028-10-15", after.TreatAgain, "ask why"},
		{"doubtful is looked at in leaf", at("2027-10-16", find("a", after.Doubtful)), nil, o, "2027-10-16", "2028-06-01", "2028-08-31", after.LookAtAgain, "nobody can say"},
		{"not stated what", at("2027-08-01", find("a", 0)), nil, o, "2027-08-01", "2027-08-01", "2027-10-15", after.TreatAgain, "find out"},
		{"no window known", at("2027-08-01", find("a", after.RootSucker)), nil, after.Openings{}, "2027-08-01", "", "", after.TreatAgain, "do not treat until"},
		{"windows that never meet", at("2027-08-01", find("a", after.RootSucker)), nil, after.Openings{Treat: []civil.Window{treating, newJersey}}, "2027-08-01", "", "", after.TreatAgain, "do not treat until"},
		{"not found yet", at("2027-08-01", find("a", after.RootSucker)), nil, o, "2027-07-31", "", "", 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := after.Retreatments(c.visits, c.treated, &c.openings, day(t, c.on))
			if c.why == "" {
				assert.Empty(t, list)
				return
			}
			require.Len(t, list, 1)
			assert.Equal(t, day(t, c.from), list[0].From)
			assert.Equal(t, day(t, c.until), list[0].Until)
			assert.Equal(t, c.act, list[0].Act)
			assert.Contains(t, list[0].Why, c.why)
		})
	}
}

// Each find that lives is due or settled; none is due before it was found, or out of the
// window; order makes no difference.
func TestNoFindIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var visits []after.Visit
		for i := range rapid.IntRange(0, 5).Draw(t, "visits") {
			v := drawVisit(t)
			v.ID = string(rune('a' + i))
			for range rapid.IntRange(0, 3).Draw(t, "finds") {
				v.Finds = append(v.Finds, after.Find{ID: rapid.SampledFrom([]string{"", "1", "2", "3"}).Draw(t, "id"), Kind: after.Kind(rapid.IntRange(1, 7).Draw(t, "kind"))})
			}
			visits = append(visits, v)
		}
		on := drawDay(t, "on")
		o := after.Openings{Treat: []civil.Window{treating}, Leaf: summer}
		list := after.Retreatments(visits, nil, &o, on)
		due := map[string]civil.Date{}
		for _, d := range list {
			assert.GreaterOrEqual(t, d.From, on)
			assert.True(t, treating.Holds(d.From) || d.Act == after.LookAtAgain && summer.Holds(d.From))
			due[d.ID] = max(due[d.ID], d.FoundOn)
		}
		last, alive := map[string]civil.Date{}, map[string]civil.Date{}
		for _, v := range visits {
			for _, f := range v.Finds {
				if v.On <= on {
					last[f.ID] = max(last[f.ID], v.On)
					if f.Kind.Alive() {
						alive[f.ID] = max(alive[f.ID], v.On)
					}
				}
			}
		}
		for id, found := range alive {
			if id == "" || found == last[id] {
				assert.Equal(t, found, due[id], "%q", id)
			}
		}
		assert.ElementsMatch(t, list, after.Retreatments(rapid.Permutation(visits).Draw(t, "order"), nil, &o, on))
	})
}
