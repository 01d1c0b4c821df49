package plots

import (
	"encoding/binary"
	"fmt"
	"math/bits"
	"slices"

	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
)

// subset returns a TrueType font with the glyphs of the given characters of
// another, without hints and kerning, to be carried inside a figure. Tables
// are as in ISO/IEC 14496-22 (Open Font Format). name becomes the font's
// name; characters that the font lacks, or beyond the basic plane, are left
// out.
func subset(ttf []byte, parsed *opentype.Font, chars []rune, name string) ([]byte, error) {
	src, err := readTables(ttf)
	if err != nil {
		return nil, err
	}
	chars = slices.Clone(chars)
	slices.Sort(chars)
	chars = slices.Compact(chars)
	var buf sfnt.Buffer
	glyphs := []uint16{0} // new index to old; 0 is the sign for a missing one
	var mapped []rune
	for _, r := range chars {
		g, err := parsed.GlyphIndex(&buf, r)
		if err != nil {
			return nil, err
		}
		if g != 0 && r < 0xffff {
			mapped = append(mapped, r)
			glyphs = append(glyphs, uint16(g))
		}
	}
	f := &fontCutter{src: src, glyphs: glyphs}
	glyf, loca, err := f.outlines()
	if err != nil {
		return nil, err
	}
	n := len(f.glyphs)
	head, hhea, maxp := slices.Clone(src["head"]), slices.Clone(src["hhea"]), slices.Clone(src["maxp"])
	binary.BigEndian.PutUint32(head[8:], 0)
	binary.BigEndian.PutUint16(head[50:], 1) // long offsets in loca
	binary.BigEndian.PutUint16(hhea[34:], uint16(n))
	binary.BigEndian.PutUint16(maxp[4:], uint16(n))
	binary.BigEndian.PutUint16(maxp[26:], 0) // no instructions
	post := slices.Clone(src["post"][:32])
	binary.BigEndian.PutUint32(post, 0x00030000) // no glyph names
	return writeTables([]fontTable{
		{"OS/2", src["OS/2"]}, {"cmap", cmapTable(mapped)}, {"glyf", glyf}, {"head", head}, {"hhea", hhea},
		{"hmtx", f.metrics()}, {"loca", loca}, {"maxp", maxp}, {"name", nameTable(name)}, {"post", post},
	}), nil
}

// readTables finds the tables of a font.
func readTables(ttf []byte) (map[string][]byte, error) {
	if len(ttf) < 12 {
		return nil, fmt.Errorf("font: found %d bytes, expected a TrueType font", len(ttf))
	}
	out := map[string][]byte{}
	for i := range int(binary.BigEndian.Uint16(ttf[4:])) {
		rec := ttf[12+16*i:]
		off, n := binary.BigEndian.Uint32(rec[8:]), binary.BigEndian.Uint32(rec[12:])
		out[string(rec[:4])] = ttf[off : off+n]
	}
	for _, tag := range []string{"OS/2", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "post"} {
		if out[tag] == nil {
			return nil, fmt.Errorf("font: found no table %q, expected a TrueType font", tag)
		}
	}
	return out, nil
}

// fontCutter gathers the glyphs of a subset.
type fontCutter struct {
	src    map[string][]byte
	glyphs []uint16 // new index to old
}

// index returns the new index of an old glyph, adding it if need be.
func (f *fontCutter) index(old uint16) uint16 {
	if i := slices.Index(f.glyphs, old); i >= 0 {
		return uint16(i)
	}
	f.glyphs = append(f.glyphs, old)
	return uint16(len(f.glyphs) - 1)
}

// outline returns the bytes of an old glyph.
func (f *fontCutter) outline(old uint16) []byte {
	loca, i := f.src["loca"], int(old)
	if binary.BigEndian.Uint16(f.src["head"][50:]) == 0 {
		return f.src["glyf"][2*int(binary.BigEndian.Uint16(loca[2*i:])) : 2*int(binary.BigEndian.Uint16(loca[2*i+2:]))]
	}
	return f.src["glyf"][binary.BigEndian.Uint32(loca[4*i:]):binary.BigEndian.Uint32(loca[4*i+4:])]
}

// outlines builds the tables glyf and loca; components of composite glyphs
// are added to the subset as they come.
func (f *fontCutter) outlines() (glyf, loca []byte, err error) {
	for i := 0; i < len(f.glyphs); i++ {
		loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
		g := slices.Clone(f.outline(f.glyphs[i]))
		if len(g) == 0 {
			continue
		}
		if contours := int16(binary.BigEndian.Uint16(g)); contours >= 0 {
			// Instructions stand between the contour ends and the flags.
			at := 10 + 2*int(contours)
			n := int(binary.BigEndian.Uint16(g[at:]))
			g = append(append(slices.Clone(g[:at]), 0, 0), g[at+2+n:]...)
		} else if g, err = f.composite(g); err != nil {
			return nil, nil, err
		}
		glyf = append(glyf, g...)
		for len(glyf)%4 != 0 {
			glyf = append(glyf, 0)
		}
	}
	return glyf, binary.BigEndian.AppendUint32(loca, uint32(len(glyf))), nil
}

// composite renumbers the components of a composite glyph and drops its
// instructions.
func (f *fontCutter) composite(g []byte) ([]byte, error) {
	const (
		wordArguments = 1 << 0
		scaled        = 1 << 3
		more          = 1 << 5
		scaledXY      = 1 << 6
		matrix        = 1 << 7
		instructions  = 1 << 8
	)
	for at := 10; ; {
		if at+4 > len(g) {
			return nil, fmt.Errorf("font: found a composite glyph cut short, expected %d bytes or more", at+4)
		}
		flags := binary.BigEndian.Uint16(g[at:])
		binary.BigEndian.PutUint16(g[at:], flags&^instructions)
		binary.BigEndian.PutUint16(g[at+2:], f.index(binary.BigEndian.Uint16(g[at+2:])))
		at += 6
		if flags&wordArguments != 0 {
			at += 2
		}
		switch {
		case flags&scaled != 0:
			at += 2
		case flags&scaledXY != 0:
			at += 4
		case flags&matrix != 0:
			at += 8
		}
		if flags&more == 0 {
			return g[:at], nil
		}
	}
}

// metrics builds the table hmtx.
func (f *fontCutter) metrics() []byte {
	hmtx := f.src["hmtx"]
	full := int(binary.BigEndian.Uint16(f.src["hhea"][34:]))
	var out []byte
	for _, g := range f.glyphs {
		i := int(g)
		if i < full {
			out = append(out, hmtx[4*i:4*i+4]...)
			continue
		}
		out = append(out, hmtx[4*(full-1):4*(full-1)+2]...)
		bearing := 4*full + 2*(i-full)
		out = append(out, hmtx[bearing:bearing+2]...)
	}
	return out
}

// cmapTable maps sorted characters to the glyphs 1, 2, … (format 4).
func cmapTable(chars []rune) []byte {
	type segment struct{ first, last, delta uint16 }
	var segs []segment
	for i, r := range chars {
		c, g := uint16(r), uint16(i+1)
		if n := len(segs); n > 0 && segs[n-1].last+1 == c {
			segs[n-1].last = c
			continue
		}
		segs = append(segs, segment{c, c, g - c})
	}
	segs = append(segs, segment{0xffff, 0xffff, 1})
	n := len(segs)
	var b []byte
	put := func(v ...uint16) {
		for _, x := range v {
			b = binary.BigEndian.AppendUint16(b, x)
		}
	}
	put(0, 1, 3, 1, 0, 12) // one table: Windows, basic plane, 12 bytes on
	log := bits.Len(uint(n)) - 1
	put(4, uint16(16+8*n), 0, uint16(2*n), uint16(2<<log), uint16(log), uint16(2*n-2<<log))
	for _, s := range segs {
		put(s.last)
	}
	put(0)
	for _, s := range segs {
		put(s.first)
	}
	for _, s := range segs {
		put(s.delta)
	}
	for range segs {
		put(0)
	}
	return b
}

// nameTable holds family, style, unique, full and PostScript names.
func nameTable(name string) []byte {
	ids := []uint16{1, 2, 3, 4, 6}
	texts := []string{name, "Regular", name, name, name}
	b := binary.BigEndian.AppendUint16(nil, 0)
	b = binary.BigEndian.AppendUint16(b, uint16(len(ids)))
	b = binary.BigEndian.AppendUint16(b, uint16(6+12*len(ids)))
	var store []byte
	for i, id := range ids {
		at := len(store)
		for _, c := range []byte(texts[i]) {
			store = append(store, 0, c)
		}
		for _, x := range []uint16{3, 1, 0x409, id, uint16(len(store) - at), uint16(at)} {
			b = binary.BigEndian.AppendUint16(b, x)
		}
	}
	return append(b, store...)
}

type fontTable struct {
	tag  string
	data []byte
}

// writeTables puts a font together from tables sorted by tag.
func writeTables(tables []fontTable) []byte {
	n := len(tables)
	log := bits.Len(uint(n)) - 1
	b := binary.BigEndian.AppendUint32(nil, 0x00010000)
	for _, x := range []uint16{uint16(n), uint16(16 << log), uint16(log), uint16(16*n - 16<<log)} {
		b = binary.BigEndian.AppendUint16(b, x)
	}
	var body []byte
	head := 0
	for _, t := range tables {
		off := 12 + 16*n + len(body)
		if t.tag == "head" {
			head = off
		}
		b = append(b, t.tag...)
		b = binary.BigEndian.AppendUint32(b, checksum(t.data))
		b = binary.BigEndian.AppendUint32(b, uint32(off))
		b = binary.BigEndian.AppendUint32(b, uint32(len(t.data)))
		body = append(body, t.data...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	b = append(b, body...)
	binary.BigEndian.PutUint32(b[head+8:], 0xb1b0afba-checksum(b))
	return b
}

// checksum adds up a table as big-endian words.
func checksum(b []byte) uint32 {
	var sum uint32
	for len(b) >= 4 {
		sum += binary.BigEndian.Uint32(b)
		b = b[4:]
	}
	var last [4]byte
	copy(last[:], b)
	return sum + binary.BigEndian.Uint32(last[:])
}
