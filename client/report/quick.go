package report

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
	"strconv"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
)

// rowAt is one of many rows that are written without their records.
type rowAt struct {
	*client.Answered
	i       int             // of the row
	index   int             // of its stem in the chunk; -1: it was not sent
	stem    *inventory.Stem // nil: it was not sent
	outcome treatmentv1.Outcome
	second  *treatmentv1.Dose // of a later pass; nil without one
	record  *client.Row
	cells
}

// cells are texts that many rows repeat, as they are written.
type cells struct {
	words     [][]byte // by their place in the chunk, once they are written
	forms     [256][]byte
	place     string
	placeCell []byte
	diameters [256]diameterCell
	row, line counted
}

// diameterCell is a diameter and its cell.
type diameterCell struct {
	micrometres int64
	cell        []byte // nil: none
}

// counted is a number that mostly grows by one from row to row, and its digits, the first
// one lowest: those of a text that is changed would have to be in the cache before they can
// be copied.
type counted struct {
	n      int64
	digits uint64
	length int // zero: there are more than eight
}

// append goes on to a number and adds its digits.
func (c *counted) append(b []byte, n int64) []byte {
	last := 8 * (c.length - 1)
	if n == c.n+1 && n > 0 && c.length > 0 && byte(c.digits>>last) != '9' {
		c.digits += 1 << last
	} else {
		var text [20]byte
		digits := strconv.AppendInt(text[:0], n, 10)
		c.digits, c.length = binary.LittleEndian.Uint64(text[:]), len(digits)
		if c.length > 8 {
			c.length = 0
		}
	}
	c.n = n
	if c.length == 0 {
		return strconv.AppendInt(b, n, 10)
	}
	return binary.LittleEndian.AppendUint64(b, c.digits)[:len(b)+c.length]
}

func (r *rowAt) begin(a *client.Answered) {
	r.Answered = a
	words := len(a.Block.Words())
	clear(r.words)
	r.words = slices.Grow(r.words[:0], words)[:words]
}

func (r *rowAt) moveTo(i int) {
	r.i, r.index, r.outcome, r.second, r.record = i, r.Block.Index(i), r.Outcome(i), r.Second(i), nil
	if r.stem = nil; r.index >= 0 {
		r.stem = r.Block.Stem(r.index)
	}
}

// whole is the row with its record, which takes longer.
func (r *rowAt) whole() *client.Row {
	if r.record == nil {
		r.record = r.Row(r.i)
	}
	return r.record
}

// isRare tells a row that was rejected, has a later pass or computed distances to water.
func (r *rowAt) isRare() bool {
	return r.second != nil || r.outcome == treatmentv1.Outcome_OUTCOME_REJECTED || len(r.Answer.ComputedWater) > 0
}

// wordsKey tells rows that were sent apart by their site, species and form.
func (r *rowAt) wordsKey() uint64 {
	return uint64(uint32(r.stem.Site))<<32 | uint64(uint32(r.stem.Species)&(1<<24-1))<<8 | uint64(r.stem.Form)
}

// dose is the place of the row's dose among those of the answer; -1: nothing is applied.
func (r *rowAt) dose() int {
	if r.outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		return -1
	}
	return int(r.Answer.Dose[r.index]) - 1
}

func quickNumber(b []byte, r *rowAt) ([]byte, bool) {
	return r.row.append(b, r.Block.Number(r.i)), true
}

func quickLine(b []byte, r *rowAt) ([]byte, bool) {
	return r.line.append(b, int64(r.Block.Line(r.i))), true
}

// The columns of a stem that was sent are read from its chunk.

func quickID(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	return appendText(b, r.Block.ID(r.index)), true
}

func quickSite(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	return r.appendWord(b, r.stem.Site), true
}

func quickSpecies(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	return r.appendWord(b, r.stem.Species), true
}

func (r *rowAt) appendWord(b []byte, at int32) []byte {
	if r.words[at] == nil {
		r.words[at] = appendText(nil, r.Block.Words()[at])
	}
	return append(b, r.words[at]...)
}

func quickForm(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	form := r.stem.Form
	if r.forms[form] == nil {
		r.forms[form] = appendText(nil, rules.GrowthForm(form).String())
	}
	return append(b, r.forms[form]...), true
}

func quickPlace(b []byte, r *rowAt) ([]byte, bool) {
	if place := r.Block.Place(r.i); place != r.place {
		r.place, r.placeCell = place, appendText(r.placeCell[:0], place)
	}
	return append(b, r.placeCell...), true
}

func quickDiameter(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	v := r.stem.DiameterUm
	if v < 0 {
		return b, true
	}
	known := &r.diameters[scattered(uint64(v))]
	if known.micrometres != v || known.cell == nil {
		known.micrometres, known.cell = v, appendShare(known.cell[:0], v, int64(quantity.Centimetre))
	}
	return append(b, known.cell...), true
}

func quickLatitude(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	return appendDegrees(b, r.stem.Latitude), true
}

func quickLongitude(b []byte, r *rowAt) ([]byte, bool) {
	if r.index < 0 {
		return b, false
	}
	return appendDegrees(b, r.stem.Longitude), true
}

func appendDegrees(b []byte, v float64) []byte {
	if math.IsNaN(v) {
		return b
	}
	return appendDecimal(b, v)
}

func quickStems(b []byte, r *rowAt) ([]byte, bool) {
	if n := r.Stems(r.i); n != 0 {
		b = strconv.AppendInt(b, n, 10)
	}
	return b, true
}

// quickDoses gives the columns of a dose their quick writers, which read the
// columns of the answer.
func quickDoses(list []Column) []Column {
	const whole, thousandths, millionths = 1, int64(quantity.Millilitre), 1_000_000
	for i, of := range map[string]struct {
		column func(*treatmentv1.PrescriptionChunk) []int64
		share  int64
	}{
		"cuts":        {(*treatmentv1.PrescriptionChunk).GetCuts, whole},
		"cut_ml":      {(*treatmentv1.PrescriptionChunk).GetCutUl, thousandths},
		"mix_ml":      {(*treatmentv1.PrescriptionChunk).GetMixUl, thousandths},
		"product_ml":  {(*treatmentv1.PrescriptionChunk).GetProductUl, thousandths},
		"carrier_ml":  {(*treatmentv1.PrescriptionChunk).GetCarrierUl, thousandths},
		"adjuvant_ml": {(*treatmentv1.PrescriptionChunk).GetAdjuvantUl, thousandths},
		"dye_ml":      {(*treatmentv1.PrescriptionChunk).GetDyeUl, thousandths},
		"ae_g":        {(*treatmentv1.PrescriptionChunk).GetAeUg, millionths},
	} {
		quickly(list, i, func(b []byte, r *rowAt) ([]byte, bool) {
			at := r.dose()
			if at < 0 {
				return b, true
			}
			v := of.column(r.Answer)[at]
			if v <= 0 {
				return b, v == 0
			}
			return appendShare(b, v, of.share), true
		})
	}
	quickly(list, "rate_lb_ae_per_ac", func(b []byte, r *rowAt) ([]byte, bool) {
		at := r.dose()
		if at < 0 {
			return b, true
		}
		rate := r.Answer.RateUgPerAc[at]
		if rate < 0 {
			return b, true
		}
		return appendDecimal(b, quantity.MicrogramsAE(rate).Pounds()), true
	})
	return list
}

func quickly(list []Column, name string, quick func(b []byte, r *rowAt) ([]byte, bool)) {
	for i := range list {
		if list[i].Name == name {
			list[i].quick = quick
		}
	}
}

// whereSecond gives columns of a later pass their quick writers: most rows have none.
func whereSecond(list []Column) []Column {
	for i, c := range list {
		list[i].rare = true
		list[i].quick = func(b []byte, r *rowAt) ([]byte, bool) {
			if r.second != nil {
				b = appendCell(b, c.value(&client.Row{Second: r.second}))
			}
			return b, true
		}
	}
	return list
}

func quickFaults(b []byte, r *rowAt) ([]byte, bool) {
	return b, r.outcome != treatmentv1.Outcome_OUTCOME_REJECTED
}

func quickWater(b []byte, r *rowAt) ([]byte, bool) {
	return b, r.index < 0 || len(r.Answer.ComputedWater) == 0
}

// appendShare appends n/of as decimal has it, where of is a power of ten, at most that of
// eight. A decimal of at most 15 digits is the shortest that reads back as its number.
func appendShare(b []byte, n, of int64) []byte {
	const exact, eight = 1_000_000_000_000_000, 100_000_000
	if n < 0 || n >= exact {
		return appendDecimal(b, float64(n)/float64(of))
	}
	whole := n / of
	rest := n - whole*of
	b = strconv.AppendInt(b, whole, 10)
	if rest == 0 {
		return b
	}
	const zeros = 0x3030303030303030
	digits := eightDigits(uint64(rest * (eight / of)))
	b = append(b, '.')
	end := len(b) + 8 - bits.LeadingZeros64(digits)/8
	return binary.LittleEndian.AppendUint64(b, digits|zeros)[:end]
}

// eightDigits puts the digits of a number of eight into bytes, the first one lowest:
// halves, then quarters, then single ones, all at once, each division by a multiplication
// that is exact for numbers of so many digits.
func eightDigits(n uint64) uint64 {
	v := n/10_000 | n%10_000<<32
	hundreds := v * 10_486 >> 20 & 0x0000007F0000007F
	v = hundreds | (v-100*hundreds)<<16
	tens := v * 103 >> 10 & 0x000F000F000F000F
	return tens | (v-10*tens)<<8
}

// appendDecimal appends a number as decimal writes it.
func appendDecimal(b []byte, v float64) []byte {
	const places, most = 10_000_000, 1e15
	if size := math.Abs(v); size*places < most && v != 0 {
		if scaled := int64(size*places + 0.5); float64(scaled)/places == size {
			if v < 0 {
				b = append(b, '-')
			}
			return appendShare(b, scaled, places)
		}
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}
