package dataset

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

// Header says what a part is part of, and which boards it has.
type Header struct {
	Format      int          `json:"format"`
	From        uint64       `json:"from"` // index of the first board
	To          uint64       `json:"to"`   // below which the indices are
	Description *Description `json:"description"`
}

// The format of parts.
const (
	formatVersion = 1
	partMagic     = "bwpart\r\n"
	blockMagic    = "bwbl"

	blockHead   = 4 + 8 + 4 + 4 + 4
	sumSize     = 4
	mostHeader  = 64 << 20 // bytes of a header's text
	mostPayload = 1 << 30
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func appendSum(dst []byte, from int) []byte {
	return binary.LittleEndian.AppendUint32(dst, crc32.Checksum(dst[from:], castagnoli))
}

// bytes is the header as it is written.
func (h *Header) bytes() ([]byte, error) {
	text, err := json.Marshal(h)
	if err != nil {
		return nil, err
	}
	if len(text) > mostHeader {
		return nil, fmt.Errorf("found a description of %d bytes, expected at most %d", len(text), mostHeader)
	}
	out := []byte(partMagic)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(text)))
	return appendSum(append(out, text...), 0), nil
}

// appendBlock appends a block of boards from first on.
func appendBlock(dst []byte, first uint64, count int, payload []byte) []byte {
	at := len(dst)
	dst = append(dst, blockMagic...)
	dst = binary.LittleEndian.AppendUint64(dst, first)
	dst = binary.LittleEndian.AppendUint32(dst, uint32(count))
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(payload)))
	dst = appendSum(dst, at)
	at = len(dst)
	return appendSum(append(dst, payload...), at)
}

// errForeign tells that a file is no part at all, or of another format.
var errForeign = errors.New("found no part of a data set, expected one")

// log reads a part.
type log struct {
	src    io.ReaderAt
	size   int64
	header Header
	shape  shape
	offset int64  // of the next block
	next   uint64 // index of its first board
}

// openLog reads the header of a part.
func openLog(src io.ReaderAt, size int64) (*log, error) {
	begin := make([]byte, len(partMagic)+4)
	if size < int64(len(begin)) {
		return nil, errForeign
	}
	if _, err := src.ReadAt(begin, 0); err != nil {
		return nil, err
	}
	if string(begin[:len(partMagic)]) != partMagic {
		return nil, errForeign
	}
	length := int64(binary.LittleEndian.Uint32(begin[len(partMagic):]))
	end := int64(len(begin)) + length + sumSize
	if length > mostHeader || end > size {
		return nil, errors.New("found a damaged header, expected a whole one")
	}
	head := make([]byte, end)
	if _, err := src.ReadAt(head, 0); err != nil {
		return nil, err
	}
	l := &log{src: src, size: size, offset: end}
	if !summed(head) {
		return nil, errors.New("found a damaged header, expected one with the checksum that it says")
	}
	if err := json.Unmarshal(head[len(begin):end-sumSize], &l.header); err != nil {
		return nil, fmt.Errorf("found a damaged header: %w", err)
	}
	h := &l.header
	switch {
	case h.Format != formatVersion:
		return nil, fmt.Errorf("found format %d of a part, expected %d", h.Format, formatVersion)
	case h.Description == nil || h.From > h.To || h.To > h.Description.Boards:
		return nil, errors.New("found a header that contradicts itself")
	}
	if err := h.Description.check(); err != nil {
		return nil, err
	}
	l.next, l.shape = h.From, h.Description.shape()
	return l, nil
}

// summed tells whether the last bytes are the checksum of those before.
func summed(b []byte) bool {
	n := len(b) - sumSize
	return crc32.Checksum(b[:n], castagnoli) == binary.LittleEndian.Uint32(b[n:])
}

// tornError is what is left of a block that was being written when its writer
// ended.
type tornError struct{ offset int64 }

func (e *tornError) Error() string {
	return fmt.Sprintf("byte %d: found a block that is not whole", e.offset)
}

// damageError is damage elsewhere than at the end.
type damageError struct {
	offset int64
	found  string
}

func (e *damageError) Error() string {
	return fmt.Sprintf("byte %d: found %s, expected a block as it was written; compute this part again under another name", e.offset, e.found)
}

// block is boards of a part.
type block struct {
	first   uint64
	count   uint32
	payload []byte
}

// block returns the next one, io.EOF after the last, a *tornError for what is
// not whole at the end and a *damageError for damage before it.
func (l *log) block() (block, error) {
	left := l.size - l.offset
	if left == 0 {
		return block{}, io.EOF
	}
	if left < blockHead {
		return block{}, &tornError{l.offset}
	}
	head := make([]byte, blockHead)
	if _, err := l.src.ReadAt(head, l.offset); err != nil {
		return block{}, err
	}
	b, length, ok := parseHead(head)
	damaged := func(found string) (block, error) { return block{}, &damageError{l.offset, found} }
	switch {
	case !ok:
		follows, err := l.follows()
		if err != nil {
			return block{}, err
		}
		if follows {
			return damaged("a damaged block with others after it")
		}
		return block{}, &tornError{l.offset}
	case b.first != l.next || b.count == 0 || uint64(b.count) > l.header.To-b.first:
		return damaged(fmt.Sprintf("%d boards from %d on", b.count, b.first))
	case left < blockHead+length+sumSize:
		return block{}, &tornError{l.offset}
	}
	b.payload = make([]byte, length+sumSize)
	if _, err := l.src.ReadAt(b.payload, l.offset+blockHead); err != nil {
		return block{}, err
	}
	if !summed(b.payload) {
		if left == blockHead+length+sumSize {
			return block{}, &tornError{l.offset}
		}
		return damaged("a damaged block with others after it")
	}
	b.payload = b.payload[:length]
	l.offset += blockHead + length + sumSize
	l.next += uint64(b.count)
	return b, nil
}

// parseHead reads the head of a block; false for none.
func parseHead(head []byte) (b block, length int64, ok bool) {
	if string(head[:len(blockMagic)]) != blockMagic || !summed(head) {
		return b, 0, false
	}
	b.first, b.count = binary.LittleEndian.Uint64(head[4:]), binary.LittleEndian.Uint32(head[12:])
	length = int64(binary.LittleEndian.Uint32(head[16:]))
	return b, length, length <= mostPayload
}

// follows tells whether the head of a block comes after the offset: then what
// is there was whole once, as a block is begun when the one before it has
// reached the disk.
func (l *log) follows() (bool, error) {
	const piece = 1 << 16
	buf := make([]byte, piece+blockHead)
	for at := l.offset + 1; at+blockHead <= l.size; at += piece {
		n, err := l.src.ReadAt(buf, at)
		if err != nil && err != io.EOF {
			return false, err
		}
		for i := 0; i+blockHead <= n; i++ {
			j := bytes.Index(buf[i:n], []byte(blockMagic))
			if j < 0 || i+j+blockHead > n {
				break
			}
			i += j
			if _, _, ok := parseHead(buf[i : i+blockHead]); ok {
				return true, nil
			}
		}
	}
	return false, nil
}

// rows gives the rows of a block to yield.
func (l *log) rows(b block, yield func(*Row) error) error {
	d := &decoder{data: b.payload}
	for i := range b.count {
		r, err := l.shape.decode(d, b.first+uint64(i))
		if err != nil {
			return err
		}
		if err := yield(&r); err != nil {
			return err
		}
	}
	if len(d.data) > 0 {
		return fmt.Errorf("found %d bytes after the last row of a block", len(d.data))
	}
	return nil
}
