package command

import (
	"cmp"
	"errors"
	"fmt"
	"io"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client/inventory"
)

// stemsIn reads the stems of an inventory file that is to be kept as a whole: a single
// row with a fault refuses it, and so do rows of another site. All faults are told.
func stemsIn(path string) ([]*treatmentv1.Stem, error) {
	reader, err := inventory.Open(path)
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	var stems []*treatmentv1.Stem
	var faults []error
	var site string
	for {
		row, err := reader.Next()
		if errors.Is(err, io.EOF) {
			return stems, errors.Join(faults...)
		}
		if err != nil {
			return nil, err
		}
		for _, f := range row.Faults {
			faults = append(faults, fmt.Errorf("%s: %s", path, f))
		}
		if site = cmp.Or(site, row.SiteID); row.SiteID != site {
			faults = append(faults, fmt.Errorf("%s: line %d, column locationID: %q follows on %q: split the file by site", path, row.Line, row.SiteID, site))
		}
		stems = append(stems, row.Stem)
	}
}
