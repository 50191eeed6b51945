package api

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
)

var waterClasses = rules.Words[rules.WaterClass]()

// measuredColumns are the computed distances of a chunk. The zero value has none.
type measuredColumns struct {
	byClass [16]*treatmentv1.WaterColumn
	used    bool
}

// add appends the distances of a row to the columns of their classes.
func (m *measuredColumns) add(row int, w *rules.Waters) {
	if !w.HasComputed() {
		return
	}
	for _, class := range waterClasses {
		if d, known := w.Computed(class); known {
			m.used = true
			m.column(class, row).append(d)
		}
	}
}

// column gives the column of a class, filled up to a row.
func (m *measuredColumns) column(class rules.WaterClass, row int) waterColumn {
	if m.byClass[class] == nil {
		m.byClass[class] = &treatmentv1.WaterColumn{WaterClass: rulewire.Encode[commonv1.WaterClass](class)}
	}
	column := waterColumn{m.byClass[class]}
	column.fill(row)
	return column
}

// waterColumn is a column of distances while it grows.
type waterColumn struct{ *treatmentv1.WaterColumn }

func (c waterColumn) append(d rules.WaterDistance) {
	c.DistanceUm = append(c.DistanceUm, int64(d.Distance))
	c.Origin = append(c.Origin, byte(d.Origin))
	c.AtLeast = append(c.AtLeast, d.AtLeast)
}

// fill says of the rows up to a number that nothing is known.
func (c waterColumn) fill(rows int) {
	for len(c.DistanceUm) < rows {
		c.DistanceUm, c.Origin, c.AtLeast = append(c.DistanceUm, notKnown), append(c.Origin, 0), append(c.AtLeast, false)
	}
}

// take gives the columns of a chunk of so many rows, by class, behind what is in list.
func (m *measuredColumns) take(list []*treatmentv1.WaterColumn, rows int) []*treatmentv1.WaterColumn {
	if !m.used {
		return list
	}
	for _, c := range m.byClass {
		if c != nil && len(c.DistanceUm) > 0 {
			waterColumn{c}.fill(rows)
			list = append(list, c)
		}
	}
	return list
}

// reset empties the columns and keeps their memory.
func (m *measuredColumns) reset() {
	if !m.used {
		return
	}
	for _, c := range m.byClass {
		if c != nil {
			c.DistanceUm, c.Origin, c.AtLeast = c.DistanceUm[:0], c.Origin[:0], c.AtLeast[:0]
		}
	}
	m.used = false
}

// writeComputed writes the computed distances of a row, by class.
func writeComputed(w *rules.Waters) []*commonv1.WaterDistance {
	if !w.HasComputed() {
		return nil
	}
	var list []*commonv1.WaterDistance
	for _, class := range waterClasses {
		if d, known := w.Computed(class); known {
			list = append(list, writeDistance(class, d))
		}
	}
	return list
}

func writeDistance(class rules.WaterClass, d rules.WaterDistance) *commonv1.WaterDistance {
	return &commonv1.WaterDistance{
		WaterClass: rulewire.Encode[commonv1.WaterClass](class), DistanceM: d.Distance.Metres(),
		Origin: rulewire.Encode[commonv1.DistanceOrigin](d.Origin), AtLeast: d.AtLeast,
	}
}
