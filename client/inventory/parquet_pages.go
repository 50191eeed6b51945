package inventory

import (
	"bufio"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// Limits of one page, which the decoder has in memory at once, whatever of the file
// it takes: a few bytes can state any size.
const (
	maxPageBytes  = 64 << 20
	maxPageValues = 8 << 20
)

// checkPages reads what the pages of a column of a row group say of their size.
func checkPages(in io.ReaderAt, column string, chunk *format.ColumnMetaData) error {
	start := chunk.DataPageOffset
	if d := chunk.DictionaryPageOffset; d > 0 && d < start {
		start = d
	}
	section := io.NewSectionReader(in, start, chunk.TotalCompressedSize)
	pages := bufio.NewReader(section)
	var protocol thrift.CompactProtocol
	for {
		if _, err := pages.Peek(1); err == io.EOF {
			return nil
		}
		var h format.PageHeader
		if err := thrift.NewDecoder(protocol.NewReader(pages)).Decode(&h); err != nil {
			return fmt.Errorf("column %s: a page: %w", column, err)
		}
		values := max(h.DataPageHeader.V.NumValues, h.DataPageHeaderV2.V.NumValues, h.DictionaryPageHeader.V.NumValues)
		switch {
		case h.CompressedPageSize < 0 || h.UncompressedPageSize < 0 || values < 0:
			return fmt.Errorf("column %s: a page of a size below 0", column)
		case h.UncompressedPageSize > maxPageBytes || h.CompressedPageSize > maxPageBytes:
			return fileError(0, column, "has a page of %d bytes, at most %d are taken; write the file with smaller pages", max(h.UncompressedPageSize, h.CompressedPageSize), maxPageBytes)
		case values > maxPageValues:
			return fileError(0, column, "has a page of %d values, at most %d are taken; write the file with smaller pages", values, maxPageValues)
		}
		if n, err := pages.Discard(int(h.CompressedPageSize)); err != nil {
			return fmt.Errorf("column %s: a page of %d bytes ends after %d", column, h.CompressedPageSize, n)
		}
	}
}
