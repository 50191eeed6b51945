package client

import (
	"errors"
	"fmt"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client/inventory"
)

// Row is what became of one row of an inventory.
type Row struct {
	Record  *inventory.Record
	Outcome treatmentv1.Outcome
	// Explanation is shared by many rows and must not be changed. It is nil for a
	// rejected row.
	Explanation *treatmentv1.Explanation
	// Dose is nil where nothing is prescribed.
	Dose *treatmentv1.Dose
	// Second is the dose of a later pass; nil without one.
	Second *treatmentv1.Dose
	// Computed is the distances to water that the server computed, by class.
	Computed []*commonv1.WaterDistance
	// Faults is what is wrong with a rejected row, in the file's own terms.
	Faults []inventory.Fault
}

// Stems is how many stems a prescribed row stands for, and zero for any other. A
// dose counts them where something is applied; where nothing is, the record does.
func (r *Row) Stems() int64 {
	s := r.Record.Stem
	switch {
	case r.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		return 0
	case r.Dose.GetStems() > 0:
		return r.Dose.GetStems()
	case s.Count != nil:
		return s.GetCount()
	case s.StemDensityPerHa != nil && s.AreaM2 != nil:
		return inventory.StemsOf(s.GetStemDensityPerHa(), s.GetAreaM2())
	}
	return 1
}

func rejected(r *inventory.Record, faults []inventory.Fault) *Row {
	return &Row{Record: r, Outcome: treatmentv1.Outcome_OUTCOME_REJECTED, Faults: faults}
}

// answers reads an answer's columns by row.
type answers struct {
	chunk      *treatmentv1.PrescriptionChunk
	second     []*treatmentv1.Dose // by the row's index; none where no row has one
	rejections map[int64][]*treatmentv1.FieldFault
}

// newAnswers checks that an answer is that to a chunk of n rows from first on. A
// column that is short would give stems the wrong dose, so it is an error.
func newAnswers(chunk *treatmentv1.PrescriptionChunk, first int64, n int) (*answers, error) {
	if chunk.GetFirstRow() != first {
		return nil, fmt.Errorf("the server answered row %d where row %d was asked", chunk.GetFirstRow(), first)
	}
	for name, length := range map[string]int{
		"outcome": len(chunk.GetOutcome()), "explanation": len(chunk.GetExplanation()), "dose": len(chunk.GetDose()),
	} {
		if length != n {
			return nil, fmt.Errorf("the server's answer has %d values in column %s for %d rows", length, name, n)
		}
	}
	doses := len(chunk.GetStems())
	for name, length := range map[string]int{
		"cuts": len(chunk.GetCuts()), "cut_ul": len(chunk.GetCutUl()), "mix_ul": len(chunk.GetMixUl()),
		"product_ul": len(chunk.GetProductUl()), "carrier_ul": len(chunk.GetCarrierUl()),
		"adjuvant_ul": len(chunk.GetAdjuvantUl()), "dye_ul": len(chunk.GetDyeUl()),
		"ae_ug": len(chunk.GetAeUg()), "rate_ug_per_ac": len(chunk.GetRateUgPerAc()),
	} {
		if length != doses {
			return nil, fmt.Errorf("the server's answer has %d values in column %s for %d doses", length, name, doses)
		}
	}
	if err := checkComputed(chunk.GetComputedWater(), n); err != nil {
		return nil, err
	}
	a := &answers{chunk: chunk, rejections: map[int64][]*treatmentv1.FieldFault{}}
	for _, s := range chunk.GetSecondDoses() {
		if a.second == nil {
			a.second = make([]*treatmentv1.Dose, n)
		}
		if i := s.GetRow() - first; i >= 0 && i < int64(n) {
			a.second[i] = s.GetDose()
		}
	}
	for _, r := range chunk.GetRejections() {
		a.rejections[r.GetRow()] = r.GetFaults()
	}
	return a, nil
}

// check refuses an answer that cannot be understood, at index i of the chunk.
func (a *answers) check(i int) error {
	outcome, index, dose := treatmentv1.Outcome(a.chunk.Outcome[i]), a.chunk.Explanation[i], a.chunk.Dose[i]
	switch {
	case outcome == treatmentv1.Outcome_OUTCOME_REJECTED:
		return nil
	case outcome <= treatmentv1.Outcome_OUTCOME_UNSPECIFIED || outcome > treatmentv1.Outcome_OUTCOME_REJECTED:
		return fmt.Errorf("the server answered with outcome %d, which this client does not know; use a client of the server's version", outcome)
	case index < 0 || int(index) >= columnar.NumExplanations(a.chunk):
		return errors.New("the server answered without an explanation")
	case dose < 0 || int(dose) > len(a.chunk.Stems):
		return fmt.Errorf("the server answered with dose %d of %d", dose, len(a.chunk.Stems))
	}
	return nil
}

// row is the answer at index i of the chunk, which is checked.
func (a *answers) row(record *inventory.Record, i int, explanations []*treatmentv1.Explanation) *Row {
	number := a.chunk.GetFirstRow() + int64(i)
	outcome := treatmentv1.Outcome(a.chunk.GetOutcome()[i])
	if outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
		return rejected(record, faultsOf(record, a.rejections[number]))
	}
	row := &Row{Record: record, Outcome: outcome, Explanation: explanations[a.chunk.GetExplanation()[i]], Computed: computedAt(a.chunk.GetComputedWater(), i)}
	if outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		row.Dose, row.Second = a.dose(i), a.secondOf(i)
	}
	return row
}

// secondOf is the dose of a later pass of the row at index i; nil without one.
func (a *answers) secondOf(i int) *treatmentv1.Dose {
	if a.second == nil {
		return nil
	}
	return a.second[i]
}

const microgramsPerGram = 1e6

// dose is that of a row; empty where nothing is applied.
func (a *answers) dose(row int) *treatmentv1.Dose {
	c := a.chunk
	i := int(c.GetDose()[row]) - 1
	if i < 0 {
		return &treatmentv1.Dose{}
	}
	ml := func(column []int64) float64 { return quantity.Microlitres(column[i]).Millilitres() }
	d := &treatmentv1.Dose{
		Stems: c.GetStems()[i], Cuts: c.GetCuts()[i], CutMl: ml(c.GetCutUl()),
		MixMl: ml(c.GetMixUl()), ProductMl: ml(c.GetProductUl()), CarrierMl: ml(c.GetCarrierUl()),
		AdjuvantMl: ml(c.GetAdjuvantUl()), DyeMl: ml(c.GetDyeUl()),
		AeG: float64(c.GetAeUg()[i]) / microgramsPerGram,
	}
	if rate := c.GetRateUgPerAc()[i]; rate >= 0 {
		d.RateLbAePerAc = new(quantity.MicrogramsAE(rate).Pounds())
	}
	return d
}

// faultsOf says of a row that the server rejected where it stands in the file.
func faultsOf(record *inventory.Record, faults []*treatmentv1.FieldFault) []inventory.Fault {
	list := make([]inventory.Fault, 0, max(1, len(faults)))
	for _, f := range faults {
		list = append(list, inventory.Fault{Line: record.Line, OfRow: record.OfRow, Column: f.GetField(), Problem: f.GetProblem()})
	}
	if len(list) == 0 {
		list = append(list, inventory.Fault{Line: record.Line, OfRow: record.OfRow, Problem: "the server rejected the row and gave no reason"})
	}
	return list
}
