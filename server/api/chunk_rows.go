package api

import (
	"encoding/binary"
	"math"
	"slices"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
)

// chunkRows reads the rows of a checked chunk. Of each column it looks once whether all of
// its values can be read; only in columns where one cannot is it looked for in each row.
type chunkRows struct {
	*treatmentv1.StemChunk
	received    incoming // whose memory is used again
	stated      int      // sites, by when it was received
	form        words
	desirable   words
	landUse     words
	soil        words
	bark        words
	rootCheck   words
	seedBearing words

	diameter, height, count, density, area, crownWidth, largerCount, largerDiameter numbers
	slope, otherWater, otherPlaces, uncertainty                                     numbers

	water []waterRows
	odd   []bool // rows of which a value of the stem itself cannot be read; empty: none

	placed bool // rows are read with where they lie; where not, there is no fault in it
}

// waterRows is a column of distances to water with its class.
type waterRows struct {
	*treatmentv1.WaterColumn
	class     rules.WaterClass
	distances numbers
	origins   words
	states    words
}

// words is a column of words; empty if nobody gave it. It is sound if all are known.
type words struct {
	values []byte
	sound  bool
}

// numbers is a column of numbers; empty if nobody gave it. It is sound if all hold.
type numbers struct {
	values []int64
	sound  bool
}

// wordsOf looks at eight words at a time. Words are numbered through: what is added to each
// byte sets the highest bit of those above the last.
func wordsOf[V rules.Vocabulary](column []byte) words {
	const ones = 0x0101010101010101
	last := uint64(0)
	for last < 0x7f && isWord(V(last+1)) {
		last++
	}
	var above uint64
	rest := column
	for ; len(rest) >= 8; rest = rest[8:] {
		eight := binary.LittleEndian.Uint64(rest)
		above |= eight | (eight&(0x7f*ones) + (0x7f-last)*ones)
	}
	for _, v := range rest {
		above |= uint64(v) | (uint64(v)&0x7f + (0x7f - last))
	}
	return words{column, above&(0x80*ones) == 0}
}

func isWord[V rules.Vocabulary](v V) bool { return v == 0 || rules.Known(v) }

// numbersOf looks at the bits that any number has. No number is above what has them all:
// only where that is too much is each looked at.
func (m *measure) numbersOf(column []int64) numbers {
	var all, zero uint64
	rest := column
	for ; len(rest) >= 4; rest = rest[4:] {
		a, b, c, d := uint64(rest[0]), uint64(rest[1]), uint64(rest[2]), uint64(rest[3])
		all |= (a + 1) | (b + 1) | (c + 1) | (d + 1) // notKnown becomes 0
		zero |= ^a&(a-1) | ^b&(b-1) | ^c&(c-1) | ^d&(d-1)
	}
	for _, v := range rest {
		a := uint64(v)
		all, zero = all|(a+1), zero|^a&(a-1)
	}
	const sign = 1 << 63 // of ^a&(a-1) is set for 0 alone
	limit := uint64(math.MaxInt64)
	if m.atMost > 0 {
		limit = uint64(m.atMost)
	}
	sound := all <= limit+1 && (m.mayBe0 || zero&sign == 0)
	return numbers{column, sound || !slices.ContainsFunc(column, func(v int64) bool { return v != notKnown && !m.holds(v) })}
}

// look looks through the columns of another chunk.
func (k *chunkRows) look(c *treatmentv1.StemChunk) {
	k.StemChunk = c
	k.form, k.desirable = wordsOf[rules.GrowthForm](c.GetForm()), wordsOf[rules.Desirable](c.GetDesirable())
	k.landUse, k.soil = wordsOf[rules.LandUse](c.GetLandUse()), wordsOf[rules.SoilState](c.GetSoil())
	k.bark, k.rootCheck = wordsOf[rules.BarkState](c.GetBark()), wordsOf[rules.RootCheck](c.GetRootCheck())
	k.seedBearing = wordsOf[rules.YesNo](c.GetSeedBearing())
	k.diameter, k.height = diameter.numbersOf(c.GetDiameterUm()), height.numbersOf(c.GetHeightUm())
	k.count, k.density, k.area = count.numbersOf(c.GetCount()), density.numbersOf(c.GetStemsPerHa()), area.numbersOf(c.GetAreaMm2())
	k.crownWidth, k.largerCount = crownWidth.numbersOf(c.GetCrownWidthUm()), largerCount.numbersOf(c.GetLargerCount())
	k.largerDiameter, k.slope = largerDiameter.numbersOf(c.GetLargerDiameterUm()), slope.numbersOf(c.GetSlopePermille())
	k.otherWater, k.otherPlaces = otherWater.numbersOf(c.GetOtherWaterBeyondUm()), otherPlaces.numbersOf(c.GetOtherPlacesBeyondUm())
	k.uncertainty = uncertainty.numbersOf(c.GetCoordinateUncertaintyUm())
	k.findOdd()
	k.placed = true
	k.water = k.water[:0]
	for _, w := range c.GetWater() {
		class, _ := rulewire.Decode[rules.WaterClass](w.GetWaterClass())
		k.water = append(k.water, waterRows{
			w, class, waterDistance.numbersOf(w.GetDistanceUm()), wordsOf[rules.DistanceOrigin](w.GetOrigin()), wordsOf[rules.WaterState](w.GetState()),
		})
	}
}

// forget drops the chunk, and keeps the memory of its columns.
func (k *chunkRows) forget() {
	k.received.forget()
	k.look(&treatmentv1.StemChunk{})
	k.water = emptied(k.water[:cap(k.water)])
}

// findOdd marks the rows of columns that are not sound.
func (k *chunkRows) findOdd() {
	k.odd = k.odd[:0]
	markWords[rules.GrowthForm](k, &k.form)
	markWords[rules.Desirable](k, &k.desirable)
	markWords[rules.LandUse](k, &k.landUse)
	markWords[rules.SoilState](k, &k.soil)
	markWords[rules.BarkState](k, &k.bark)
	markWords[rules.RootCheck](k, &k.rootCheck)
	markWords[rules.YesNo](k, &k.seedBearing)
	k.markNumbers(diameter, &k.diameter)
	k.markNumbers(height, &k.height)
	k.markNumbers(count, &k.count)
	k.markNumbers(density, &k.density)
	k.markNumbers(area, &k.area)
	k.markNumbers(crownWidth, &k.crownWidth)
	k.markNumbers(largerCount, &k.largerCount)
	k.markNumbers(largerDiameter, &k.largerDiameter)
	k.markNumbers(slope, &k.slope)
}

func markWords[V rules.Vocabulary](k *chunkRows, w *words) {
	if w.sound {
		return
	}
	for i, v := range w.values {
		if !isWord(V(v)) {
			k.mark(i)
		}
	}
}

func (k *chunkRows) markNumbers(m *measure, n *numbers) {
	if n.sound {
		return
	}
	for i, v := range n.values {
		if v != notKnown && !m.holds(v) {
			k.mark(i)
		}
	}
}

func (k *chunkRows) mark(i int) {
	if len(k.odd) == 0 {
		k.odd = slices.Grow(k.odd, columnar.Rows(k.StemChunk))[:columnar.Rows(k.StemChunk)]
		clear(k.odd)
	}
	k.odd[i] = true
}

// readRow reads a row of the chunk. Every field is set, whatever it was before, but for a
// position that is passed over.
func (r *row) readRow(k *chunkRows, i int) {
	r.list = r.list[:0]
	r.stem.ID, r.stem.Species = columnar.ID(k.StemChunk, i), named(k.StemChunk, k.Species[i])
	if len(k.odd) > 0 && k.odd[i] {
		r.readColumns(k, i)
	} else {
		r.copyColumns(k, i)
	}
	r.stem.LakeArea = 0
	r.readWaterColumns(k, i)
	r.readPlaceColumns(k, i)
	if k.placed {
		r.readPositionColumns(k, i)
	}
}

// copyColumns is readColumns for a row all of whose values can be read.
func (r *row) copyColumns(k *chunkRows, i int) {
	s := &r.stem
	s.Form, s.Desirable = rules.GrowthForm(wordIn(k.form.values, i)), rules.Desirable(wordIn(k.desirable.values, i))
	s.LandUse, s.Soil = rules.LandUse(wordIn(k.landUse.values, i)), rules.SoilState(wordIn(k.soil.values, i))
	s.Bark, s.RootCheck = rules.BarkState(wordIn(k.bark.values, i)), rules.RootCheck(wordIn(k.rootCheck.values, i))
	s.SeedBearing = rules.YesNo(wordIn(k.seedBearing.values, i))
	s.Diameter, s.Height = quantity.Micrometres(numberIn(k.diameter.values, i)), quantity.Micrometres(numberIn(k.height.values, i))
	s.Count, s.PerHectare = numberIn(k.count.values, i), numberIn(k.density.values, i)
	s.Area, s.CrownWidth = quantity.SquareMillimetres(numberIn(k.area.values, i)), quantity.Micrometres(numberIn(k.crownWidth.values, i))
	s.LargerCount, s.LargerDiameter = numberIn(k.largerCount.values, i), quantity.Micrometres(numberIn(k.largerDiameter.values, i))
	s.Slope, s.HasSlope = k.slope.at(i)
}

// wordIn is a word of a column, zero if nobody gave it.
func wordIn(column []byte, i int) byte {
	if i < len(column) {
		return column[i]
	}
	return 0
}

// numberIn is a number of a column, zero if it is not known or nobody gave it.
func numberIn(column []int64, i int) int64 {
	if i < len(column) {
		return max(0, column[i])
	}
	return 0
}

// readColumns reads what columns say of the stem itself.
func (r *row) readColumns(k *chunkRows, i int) {
	s := &r.stem
	s.Form = wordAt[rules.GrowthForm](r, "form", &k.form, i)
	s.Desirable = wordAt[rules.Desirable](r, "desirable", &k.desirable, i)
	s.LandUse = wordAt[rules.LandUse](r, "land_use", &k.landUse, i)
	s.Soil = wordAt[rules.SoilState](r, "soil", &k.soil, i)
	s.Bark = wordAt[rules.BarkState](r, "bark", &k.bark, i)
	s.RootCheck = wordAt[rules.RootCheck](r, "root_check", &k.rootCheck, i)
	s.SeedBearing = wordAt[rules.YesNo](r, "seed_bearing", &k.seedBearing, i)
	set(&s.Diameter, r.numberAt(diameter, &k.diameter, i))
	set(&s.Height, r.numberAt(height, &k.height, i))
	set(&s.Count, r.numberAt(count, &k.count, i))
	set(&s.PerHectare, r.numberAt(density, &k.density, i))
	set(&s.Area, r.numberAt(area, &k.area, i))
	set(&s.CrownWidth, r.numberAt(crownWidth, &k.crownWidth, i))
	set(&s.LargerCount, r.numberAt(largerCount, &k.largerCount, i))
	set(&s.LargerDiameter, r.numberAt(largerDiameter, &k.largerDiameter, i))
	s.Slope, s.HasSlope = r.stated(slope, &k.slope, i)
}

func named(c *treatmentv1.StemChunk, at int32) string {
	if at == notKnown {
		return ""
	}
	return c.GetWords()[at]
}

// wordAt reads a word of a column.
func wordAt[V rules.Vocabulary](r *row, field string, k *words, i int) V {
	switch {
	case len(k.values) == 0:
		return 0
	case k.sound:
		return V(k.values[i])
	}
	return word[V](&r.faults, field, int32(k.values[i]))
}

// numberAt reads a number of a column, zero if it is not known or wrong.
func (r *row) numberAt(m *measure, k *numbers, i int) int64 {
	switch {
	case len(k.values) == 0:
		return 0
	case k.sound:
		return max(0, k.values[i])
	}
	n, _ := r.stated(m, k, i)
	return n
}

// stated reads a number of a column, and false if it is not known or wrong.
func (r *row) stated(m *measure, k *numbers, i int) (int64, bool) {
	n, ok := k.at(i)
	if ok && !k.sound {
		return r.whole("", m, n)
	}
	return n, ok
}

// at is a number of a column as it stands there, and false if it is not known.
func (k *numbers) at(i int) (int64, bool) {
	if i < len(k.values) && k.values[i] != notKnown {
		return k.values[i], true
	}
	return 0, false
}

func (r *row) readWaterColumns(k *chunkRows, i int) {
	r.stem.Water.Forget()
	known := 0
	for at := range k.water {
		w := &k.water[at]
		um := w.distances.values[i]
		if um == notKnown {
			continue
		}
		d := rules.WaterDistance{Distance: quantity.Micrometres(um)}
		if !w.distances.sound || !w.origins.sound || !w.states.sound {
			r.checkWater(w, i, known, &d)
		} else {
			if len(w.origins.values) > 0 {
				d.Origin = rules.DistanceOrigin(w.origins.values[i])
			}
			if len(w.states.values) > 0 {
				d.State = rules.WaterState(w.states.values[i])
			}
		}
		if len(w.AtLeast) > 0 {
			d.AtLeast = w.AtLeast[i]
		}
		r.stem.Water.Set(w.class, d)
		known++
	}
	beyond, ok := k.otherWater.at(i) // without a call, as nearly all are read
	if ok && !k.otherWater.sound {
		beyond, ok = r.stated(otherWater, &k.otherWater, i)
	}
	if ok {
		r.stem.Water.SetOthers(quantity.Micrometres(beyond))
	}
}

// checkWater reads the distance to one class of water where some rows' cannot be read.
// The row's faults name it by its place among those that are known, as in a Stem message.
func (r *row) checkWater(w *waterRows, i, known int, d *rules.WaterDistance) {
	if um := w.distances.values[i]; !waterDistance.holds(um) {
		um, _ = r.whole(waterPath(known), waterDistance, um)
		d.Distance = quantity.Micrometres(um)
	}
	d.Origin = wordAt[rules.DistanceOrigin](r, waterPath(known)+"origin", &w.origins, i)
	d.State = wordAt[rules.WaterState](r, waterPath(known)+"state", &w.states, i)
}

func (r *row) readPlaceColumns(k *chunkRows, i int) {
	r.stem.Places.Forget()
	known := 0
	for _, p := range k.Places {
		if um := p.GetDistanceUm()[i]; um != notKnown {
			r.readPlaceColumn(p, i, known)
			known++
		}
	}
	beyond, ok := k.otherPlaces.at(i)
	if ok && !k.otherPlaces.sound {
		beyond, ok = r.stated(otherPlaces, &k.otherPlaces, i)
	}
	if ok {
		r.stem.Places.SetOthers(quantity.Micrometres(beyond))
	}
}

// readPlaceColumn reads the distance to one class of places, named as that to water is.
func (r *row) readPlaceColumn(p *treatmentv1.PlaceColumn, i, known int) {
	um := p.GetDistanceUm()[i]
	if !placeDistance.holds(um) {
		um, _ = r.whole(placePath(known), placeDistance, um)
	}
	d := rules.PlaceDistance{Distance: quantity.Micrometres(um)}
	if column := p.GetAtLeast(); len(column) > 0 {
		d.AtLeast = column[i]
	}
	class, _ := rulewire.Decode[rules.PlaceClass](p.GetPlaceClass())
	r.stem.Places.Set(class, d)
}
