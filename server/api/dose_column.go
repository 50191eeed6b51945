package api

import (
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/treatment"
)

// doseList is the doses of a chunk. Most rows share theirs, which is then listed once, or
// a few times where there are very many. It depends on the rows of the chunk alone.
type doseList struct {
	doses  []treatment.Dose
	places [1 << dosePlaceBits]int32 // numbers of doses, by their hash; one takes the place of another
}

const dosePlaceBits = 13

// number gives a dose its number in the chunk, from 1; it is 0 where nothing is applied.
func (l *doseList) number(d *treatment.Dose) int32 {
	if d.Mix == 0 {
		return 0
	}
	h := uint64(d.Mix)*0x9e3779b97f4a7c15 ^ uint64(d.Product)*0xbf58476d1ce4e5b9 ^ uint64(d.Stems)*0x94d049bb133111eb ^ uint64(d.Rate)
	place := &l.places[(h^h>>29)*0xff51afd7ed558ccd>>(64-dosePlaceBits)]
	if *place == 0 || !sameDose(&l.doses[*place-1], d) {
		l.doses = append(l.doses, *d)
		*place = int32(len(l.doses))
	}
	return *place
}

// sameDose is == without the wide loads of a general comparison, which wait until a dose that
// was just composed is all in memory.
func sameDose(a, b *treatment.Dose) bool {
	return (a.Stems^b.Stems)|(a.Cuts^b.Cuts)|int64(a.PerCut^b.PerCut)|int64(a.Mix^b.Mix)|
		int64(a.Product^b.Product)|int64(a.Carrier^b.Carrier)|int64(a.Adjuvant^b.Adjuvant)|int64(a.Dye^b.Dye)|
		int64(a.AE^b.AE)|int64(a.Rate^b.Rate) == 0 && a.HasRate == b.HasRate
}

// at is the dose with a number; nil for 0.
func (l *doseList) at(number int32) *treatment.Dose {
	if number == 0 {
		return nil
	}
	return &l.doses[number-1]
}

func (l *doseList) reset() {
	l.doses = l.doses[:0]
	clear(l.places[:])
}

// write gives the answer the columns of its doses.
func (l *doseList) write(a *treatmentv1.PrescriptionChunk) {
	for _, column := range []*[]int64{
		&a.Stems, &a.Cuts, &a.CutUl, &a.MixUl, &a.ProductUl, &a.CarrierUl, &a.AdjuvantUl, &a.DyeUl, &a.AeUg, &a.RateUgPerAc,
	} {
		*column = (*column)[:0]
	}
	for i := range l.doses {
		d := &l.doses[i]
		a.Stems, a.Cuts, a.CutUl = append(a.Stems, d.Stems), append(a.Cuts, d.Cuts), append(a.CutUl, int64(d.PerCut))
		a.MixUl, a.ProductUl = append(a.MixUl, int64(d.Mix)), append(a.ProductUl, int64(d.Product))
		a.CarrierUl, a.AdjuvantUl = append(a.CarrierUl, int64(d.Carrier)), append(a.AdjuvantUl, int64(d.Adjuvant))
		a.DyeUl, a.AeUg = append(a.DyeUl, int64(d.Dye)), append(a.AeUg, int64(d.AE))
		rate := int64(notKnown)
		if d.HasRate {
			rate = int64(d.Rate)
		}
		a.RateUgPerAc = append(a.RateUgPerAc, rate)
	}
}
