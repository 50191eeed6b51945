package campaign

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign/after"
)

// Site is what is kept of one site, each thing in its last version, by day.
type Site struct {
	Surveys []Survey
	Works   []Work // planned, those of the last plan last
	Uses    []Use
	Visits  []Visit

	ToBeFelled  rules.YesNo
	Felling     after.FellingRule
	Demand      after.Demand // what makes a visit a look
	Wanted      int          // clean seasons in a row
	SuckerReach quantity.Micrometres
}

// Row is a row of a survey or a find: one stem, several alike, or a patch.
type Row struct {
	ID        string
	Suckering rules.Suckering // of its species
	Ground    after.Ground    // where it stands
	Kind      after.Kind      // of a find; zero in a survey
}

// Survey is what was found on a day.
type Survey struct {
	ID   string
	On   civil.Date
	Rows []Row // none of a sample: it names no stem
	// Sampled says that plots stand for the site.
	Sampled bool
}

// Work is planned: rows with one treatment, and when it may be done.
type Work struct {
	ID          string // "plans/a" and the job's id
	Rows        []string
	From, Until civil.Date
	PlannedOn   civil.Date // the first day that the plan might use
}

// Use is one application.
type Use struct {
	ID   string
	On   civil.Date // of its last day; no date: not known
	Work string     // that it carried out
	Rows []string
	// Systemic says that a herbicide was applied: what was pulled by hand is gone, and
	// waits for nothing.
	Systemic bool
}

// Visit is a look at the site, or a day of felling.
type Visit struct {
	ID      string
	On      civil.Date
	Looked  bool // an inspection, not a felling
	Minutes int64
	Walked  quantity.PerMillion
	Finds   []Row
	Felled  []string
}
