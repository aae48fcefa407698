package logbook

import (
	"bytes"
	"context"
	"database/sql"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"sync"

	"github.com/klauspost/compress/zstd"

	"headtrue/sweep/record"
)

// significantDigits is the precision of each number with a fraction: a ten-thousandth of
// the smallest uncertainty here.
const significantDigits = 7

// encode returns an entry as one line of JSON.
func encode(e record.Entry) ([]byte, error) {
	text, err := json.Marshal(e)
	if err != nil {
		return nil, fmt.Errorf("a %s entry cannot be written as JSON: %w", e.Kind, err)
	}
	return shortened(text), nil
}

// shortened rounds all numbers with a fraction in a text of JSON.
func shortened(text []byte) []byte {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); {
		switch c := text[i]; {
		case c == '"':
			end := i + 1
			for text[end] != '"' {
				if text[end] == '\\' {
					end++
				}
				end++
			}
			out = append(out, text[i:end+1]...)
			i = end + 1
		case c == '-' || c >= '0' && c <= '9':
			end := i + bytes.IndexAny(text[i:], ",]}")
			out = appendShort(out, text[i:end])
			i = end
		default:
			out = append(out, c)
			i++
		}
	}
	return out
}

func appendShort(out, number []byte) []byte {
	if !bytes.ContainsAny(number, ".e") {
		return append(out, number...)
	}
	x, err := strconv.ParseFloat(string(number), 64)
	if err != nil {
		return append(out, number...)
	}
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', significantDigits, 64), 64)
	short, err := json.Marshal(x)
	if err != nil || len(short) >= len(number) {
		return append(out, number...)
	}
	return append(out, short...)
}

// dictionary holds text typical of all packs, so that packs need not repeat it. It must
// never change: another dictionary is another format.
//
//go:embed dictionary.jsonl
var dictionary []byte

const dictionaryID = 1

// maxPacked limits the unpacked size of one pack, so that a small pack cannot fill the
// memory. A longer run stays in single entries.
const maxPacked = 64 << 20

// packer packs something before it is returned: the first use takes half a second, for
// which no transaction should block others.
var packer = sync.OnceValues(func() (*zstd.Encoder, error) {
	to, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression), zstd.WithEncoderConcurrency(1),
		zstd.WithEncoderDictRaw(dictionaryID, dictionary))
	if err == nil {
		to.EncodeAll([]byte{'\n'}, nil)
	}
	return to, err
})

var unpacker = sync.OnceValues(func() (*zstd.Decoder, error) {
	return zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxPacked),
		zstd.WithDecoderDictRaw(dictionaryID, dictionary))
})

// pack puts the entries of a run into one piece, if they fit.
func pack(ctx context.Context, tx *sql.Tx, id int64) error {
	all, err := lines(ctx, tx, id)
	if err != nil {
		return err
	}
	text := bytes.Join(all, []byte{'\n'})
	if len(text) > maxPacked || len(all) > record.MaxEntries {
		return nil
	}
	to, err := packer()
	if err != nil {
		return err
	}
	body := to.EncodeAll(text, nil)
	if _, err := tx.ExecContext(ctx, "INSERT INTO packs (run, entries, body) VALUES ($1, $2, $3)", id, len(all), body); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "DELETE FROM entries WHERE run = $1", id)
	return err
}

// remarksFrom is the first number of remarks made on the server on a run that is not
// completely sent: the missing entries go before them.
const remarksFrom = 1 << 20

// lines returns the entries of a run as JSON: the packed ones, then the single ones after
// them. One query reads both, since packing moves entries.
func lines(ctx context.Context, q querier, id int64) ([][]byte, error) {
	rows, err := q.QueryContext(ctx, `SELECT 0 AS single, entries AS n, body FROM packs WHERE run = $1
		UNION ALL SELECT 1, n, body FROM entries WHERE run = $1 ORDER BY single, n`, id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all [][]byte
	remarks := 0 // count of entries with numbers from remarksFrom on
	for rows.Next() {
		var single, n int
		var body []byte
		if err := rows.Scan(&single, &n, &body); err != nil {
			return nil, err
		}
		if single == 1 {
			want := len(all)
			if n >= remarksFrom {
				want = remarksFrom + remarks
				remarks++
			}
			if n != want {
				return nil, fmt.Errorf("%w: entry %d follows on %d", errDamaged, n, len(all)-1)
			}
			all = append(all, body)
			continue
		}
		if all, err = unpacked(body, n); err != nil {
			return nil, err
		}
	}
	return all, rows.Err()
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// errDamaged is returned for an unreadable pack.
var errDamaged = errors.New("its entries are damaged")

func unpacked(body []byte, entries int) ([][]byte, error) {
	from, err := unpacker()
	if err != nil {
		return nil, err
	}
	text, err := from.DecodeAll(body, nil)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", errDamaged, err)
	}
	if n := bytes.Count(text, []byte{'\n'}) + 1; n != entries || n > record.MaxEntries {
		return nil, fmt.Errorf("%w: they are %d, not %d", errDamaged, n, entries)
	}
	return bytes.Split(text, []byte{'\n'}), nil
}
