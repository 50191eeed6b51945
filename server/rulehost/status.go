package rulehost

import (
	"cmp"
	"slices"
)

// Status tells how the plugins fare that are kept running, those that were refused
// after they were run or though they are pinned, and those whose last valid table
// goes on; by file.
func (h *Host) Status() []RunningStatus {
	now := h.now.Load()
	list := h.running.status()
	for _, f := range now.found {
		if f.admitted == nil && !f.revoked {
			list = append(list, RunningStatus{
				File: f.file, RuleSetID: f.ruleSet, State: Quarantined, Failures: 1, Problem: f.problem, LastLines: f.lines,
			})
		}
	}
	for _, f := range append(slices.Clone(now.faults), now.kept...) {
		if !slices.ContainsFunc(list, func(s RunningStatus) bool { return s.File == f.Where }) {
			list = append(list, RunningStatus{File: f.Where, RuleSetID: f.RuleSet, State: Quarantined, Problem: f.Problem})
		}
	}
	slices.SortStableFunc(list, func(a, b RunningStatus) int { return cmp.Compare(a.File, b.File) })
	return list
}
