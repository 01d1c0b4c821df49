package boardfile_test

import (
	"bytes"
	"errors"
	"testing"

	"boilwright/sim/boardfile"
)

const printed = `based-on = "small.toml"
name = "a board to print"
note = """
of two
lines"""
meter = []

[supply]
voltage = "120 V"

[[channel.soak.draw]]
from = "1 min"
to = "90 s"
flow = "5 g/s"

[every-channel]
triac.holding-current = "20 mA"

[[bridge]]
from = "opto1"
to = "PE"
resistance = "47 kΩ"
part = "gate"
`

func TestPrinted(t *testing.T) {
	var b bytes.Buffer
	if err := boardfile.Reference(&b); err != nil {
		t.Fatal(err)
	}
	golden(t, "testdata/reference.golden.md", b.Bytes())
	b.Reset()
	base := func(string) ([]byte, error) { return []byte(small), nil }
	f, err := boardfile.Parse("mine.toml", []byte(printed), base)
	if err != nil {
		t.Fatal(err)
	}
	if err := boardfile.Explain(&b, f); err != nil {
		t.Fatal(err)
	}
	golden(t, "testdata/explain.golden.txt", b.Bytes())
	golden(t, "testdata/marshal.golden.toml", boardfile.Marshal(f.Board))
	golden(t, "testdata/schema.golden.json", boardfile.Schema())
	broken := errors.New("disk full")
	if err := boardfile.Reference(failing{broken}); !errors.Is(err, broken) {
		t.Errorf("Reference hides %v", err)
	}
	if err := boardfile.Explain(failing{broken}, f); !errors.Is(err, broken) {
		t.Errorf("Explain hides %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func BenchmarkLoad(b *testing.B) {
	for _, name := range []string{"dye-bench-230", "dye-bench-240"} {
		b.Run("board="+name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := boardfile.Embedded(name); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCheck(b *testing.B) {
	board := boardfile.Default()
	b.ReportAllocs()
	for b.Loop() {
		if err := boardfile.Check(board); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMarshal(b *testing.B) {
	board := boardfile.Default()
	b.ReportAllocs()
	for b.Loop() {
		boardfile.Marshal(board)
	}
}
