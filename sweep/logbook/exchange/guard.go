package exchange

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// A Parquet file declares its own unpacked size, and 100 KB can declare 7 GB, which the
// library allocates. So a file is checked first, page by page, and refused if it exceeds
// the sizes of an export.
const (
	maxFooter     = 16 << 20
	maxStructs    = 500_000 // in a footer
	maxPageHeader = 1 << 16
	maxPage       = 16 << 20 // bytes of a page, unpacked
	maxPages      = 96 << 20 // of the largest page of each column: these are in memory together
)

// unpage unpacks one page, at most maxPage bytes.
var unpage = sync.OnceValues(func() (*zstd.Decoder, error) {
	return zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxPage))
})

// guardFooter checks the description at the end of a file.
func guardFooter(from io.ReaderAt, size int64) error {
	const tail = 8 // length and magic
	if size < 4+tail {
		return errors.New("too short for a Parquet file")
	}
	var end [tail]byte
	if _, err := from.ReadAt(end[:], size-tail); err != nil {
		return err
	}
	length := int64(binary.LittleEndian.Uint32(end[:]))
	if string(end[4:]) != "PAR1" || length > min(maxFooter, size-tail-4) {
		return fmt.Errorf("no Parquet file: it ends with %.16q", end)
	}
	footer := make([]byte, length)
	if _, err := from.ReadAt(footer, size-tail-length); err != nil {
		return err
	}
	_, err := wholeStruct(footer, maxStructs)
	return err
}

// guardPages checks all pages of a file.
func guardPages(from io.ReaderAt, file *parquet.File) error {
	leaves := file.Root().Columns()
	for _, leaf := range leaves {
		if !leaf.Leaf() || leaf.Repeated() {
			return fmt.Errorf("column %.40q is no plain column", leaf.Name())
		}
	}
	for g, group := range file.Metadata().RowGroups {
		if group.NumRows < 0 || group.NumRows > rowsPerGroup || len(group.Columns) != len(leaves) {
			return fmt.Errorf("row group %d has %d rows in %d columns: at most %d in %d", g, group.NumRows, len(group.Columns), rowsPerGroup, len(leaves))
		}
		var together int64
		for i := range group.Columns {
			p := pageGuard{from: from, size: file.Size(), meta: &group.Columns[i].MetaData, rows: group.NumRows, optional: leaves[i].Optional()}
			if err := p.look(); err != nil {
				return fmt.Errorf("row group %d, column %.40q: %w", g, leaves[i].Name(), err)
			}
			if together += p.largest; together > maxPages {
				return fmt.Errorf("row group %d takes more than %d MB", g, maxPages>>20)
			}
		}
	}
	return nil
}

// pageGuard checks the pages of one column in one row group.
type pageGuard struct {
	from     io.ReaderAt
	size     int64
	meta     *format.ColumnMetaData
	rows     int64
	optional bool
	largest  int64
}

func (p *pageGuard) look() error {
	m := p.meta
	at, end := m.DataPageOffset, m.DataPageOffset+m.TotalCompressedSize
	switch {
	case m.Codec != format.Zstd && m.Codec != format.Uncompressed:
		return fmt.Errorf("compressed by %v: only what export writes can be read", m.Codec)
	case m.DictionaryPageOffset != 0:
		return errors.New("it has a dictionary: only what export writes can be read")
	case m.TotalCompressedSize < 0 || at < 0 || end < at || end > p.size:
		return errors.New("its pages do not lie in the file")
	}
	for values := int64(0); at < end; {
		header, length, err := p.header(at, end)
		if err != nil {
			return err
		}
		body := make([]byte, header.CompressedPageSize)
		if _, err := p.from.ReadAt(body, at+length); err != nil {
			return err
		}
		n, err := p.page(header, body)
		if err != nil {
			return err
		}
		if values += n; values > p.rows {
			return fmt.Errorf("more values than the %d rows", p.rows)
		}
		at += length + int64(header.CompressedPageSize)
	}
	return nil
}

// header reads the header of the page at a position, and returns its length.
func (p *pageGuard) header(at, end int64) (h format.PageHeader, length int64, err error) {
	text := make([]byte, min(maxPageHeader, end-at))
	if _, err := p.from.ReadAt(text, at); err != nil {
		return h, 0, err
	}
	n, err := wholeStruct(text, 100)
	if err != nil {
		return h, 0, err
	}
	if err := thrift.Unmarshal(new(thrift.CompactProtocol), text[:n], &h); err != nil {
		return h, 0, err
	}
	if h.CompressedPageSize < 0 || int64(h.CompressedPageSize) > end-at-int64(n) || h.UncompressedPageSize < 0 || h.UncompressedPageSize > maxPage {
		return h, 0, fmt.Errorf("a page of %d bytes, %d unpacked", h.CompressedPageSize, h.UncompressedPageSize)
	}
	return h, int64(n), nil
}

// page checks a page and returns its number of values.
func (p *pageGuard) page(h format.PageHeader, body []byte) (values int64, err error) {
	var encoding format.Encoding
	var levels []byte
	switch {
	case h.DataPageHeader.Valid && h.Type == format.DataPage:
		d := h.DataPageHeader.V
		values, encoding = int64(d.NumValues), d.Encoding
		if body, err = p.unpacked(body, true); err == nil && p.optional {
			levels, body, err = levelsBefore(body)
		}
	case h.DataPageHeaderV2.Valid && h.Type == format.DataPageV2:
		d := h.DataPageHeaderV2.V
		values, encoding = int64(d.NumValues), d.Encoding
		n := int(d.DefinitionLevelsByteLength)
		if d.RepetitionLevelsByteLength != 0 || n < 0 || n > len(body) {
			return 0, errors.New("its levels do not fit the page")
		}
		levels = body[:n]
		body, err = p.unpacked(body[n:], !d.IsCompressed.Valid || d.IsCompressed.V)
	default:
		return 0, fmt.Errorf("a page of kind %v: only what export writes can be read", h.Type)
	}
	switch {
	case err != nil:
		return 0, err
	case values < 0 || values > p.rows:
		return 0, fmt.Errorf("a page of %d values for %d rows", values, p.rows)
	}
	p.largest = max(p.largest, int64(len(body)))
	if err := guardRuns(levels, values); err != nil {
		return 0, err
	}
	return values, guardEncoding(encoding, body, values)
}

func (p *pageGuard) unpacked(body []byte, compressed bool) ([]byte, error) {
	if !compressed || p.meta.Codec == format.Uncompressed {
		return body, nil
	}
	from, err := unpage()
	if err != nil {
		return nil, err
	}
	return from.DecodeAll(body, nil)
}

func levelsBefore(body []byte) (levels, rest []byte, err error) {
	if len(body) < 4 {
		return nil, nil, errors.New("a page without levels")
	}
	n := int64(binary.LittleEndian.Uint32(body))
	if n > int64(len(body)-4) {
		return nil, nil, errors.New("its levels do not fit the page")
	}
	return body[4 : 4+n], body[4+n:], nil
}

// guardRuns counts the one-bit levels in runs and packed groups (RLE / bit-packed hybrid
// of the Parquet format, Encodings.md).
func guardRuns(levels []byte, values int64) error {
	count := int64(0)
	for len(levels) > 0 {
		head, n := binary.Uvarint(levels)
		if n <= 0 || head>>1 > math.MaxInt32 {
			return errThrift
		}
		runs, bytes := int64(head>>1), int64(1)
		if head&1 == 1 {
			bytes, runs = runs, runs*8
		}
		levels = levels[n:]
		if bytes > int64(len(levels)) {
			return errThrift
		}
		levels = levels[bytes:]
		if count += runs; count > values+8*64 {
			return fmt.Errorf("levels of %d values for %d", count, values)
		}
	}
	return nil
}

// guardEncoding accepts only the encodings of an export. The lengths of texts are packed
// as differences: block size, parts of a block, number of values (DELTA_BINARY_PACKED).
func guardEncoding(e format.Encoding, body []byte, values int64) error {
	switch e {
	case format.Plain:
		return nil
	case format.DeltaLengthByteArray:
		for i, most := range []int64{1 << 10, 1 << 6, values} {
			x, n := binary.Uvarint(body)
			if n <= 0 || x > uint64(most) {
				return fmt.Errorf("lengths of texts: %d as number %d of their heading, at most %d", x, i+1, most)
			}
			body = body[n:]
		}
		return nil
	}
	return fmt.Errorf("encoded as %v: only what export writes can be read", e)
}
