package faults

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var studio = []string{"soak", "dye", "steam"}

func TestParse(t *testing.T) {
	oneWay := New("opto-one-way", 1).With("polarity", -1)
	oneWay.Onset.From = 25 * time.Minute
	loose := New("drive-open", 2)
	loose.Course = Course{On: 2 * time.Second, Off: 10 * time.Second, Fixed: true}
	film := New("film-opto", 0).With("resistance", 2e3)
	film.Severity = 0.75
	film.Course = Course{Growing: 2 * time.Hour, Start: 0.1, Steps: 8, Until: 3 * time.Hour}
	chain := New("gate-resistor-open", 1)
	chain.Onset = Onset{GatePower: 2, Watch: 3, Hold: 20 * time.Second, Delay: 3 * time.Millisecond}
	link := New("link-open", 1)
	link.Onset = Onset{Spot: Link, Above: 126}
	for _, c := range []struct {
		text string
		want Injection
		back string // by number
	}{
		{"dye:opto-one-way,polarity=negative,from=25 min", oneWay, "2:opto-one-way,polarity=negative,from=25 min"},
		{"2:triac-shorted,resistance=0.5 Ω", New("triac-shorted", 1).With("resistance", 0.5), "2:triac-shorted,resistance=500 mΩ"},
		{"board:loose-neutral", New("loose-neutral", WholeBoard), "board:loose-neutral"},
		{" steam : drive-open , on = 2s, off=10s,dwell=fixed ", loose, "3:drive-open,on=2 s,off=10 s,dwell=fixed"},
		{"soak:film-opto,steps=8,until=3 h,start=10 %,growing=2h,severity=0.75,resistance=2kohm", film,
			"1:film-opto,resistance=2 kΩ,severity=75 %,growing=2 h,start=10 %,steps=8,until=3 h"},
		{"dye:gate-resistor-open,gate-power-above=2 W,watch=steam,hold=20 s,delay=3 ms", chain,
			"2:gate-resistor-open,gate-power-above=2 W,watch=3,hold=20 s,delay=3 ms"},
		{"dye:link-open,link-above=126 °C", link, "2:link-open,link-above=126 °C"},
		{"dye:drive-open,on=2 s,off=10 s,dwell=random", Injection{Fault: "drive-open", Channel: 1, Severity: 1,
			Course: Course{On: 2 * time.Second, Off: 10 * time.Second}}, "2:drive-open,on=2 s,off=10 s"},
	} {
		got, err := Parse(c.text, studio)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: found %+v, %v, expected %+v", c.text, got, err, c.want)
			continue
		}
		if got.String() != c.back {
			t.Errorf("%s: found it written %q, expected %q", c.text, got.String(), c.back)
		}
		again, err := Parse(got.Text(studio), studio)
		if err != nil || !reflect.DeepEqual(again, got) {
			t.Errorf("found %q read as %+v, %v", got.Text(studio), again, err)
		}
	}
	if s := oneWay.Text(studio); s != "dye:opto-one-way,polarity=negative,from=25 min" {
		t.Errorf("found %q, expected the channel's name", s)
	}
}

func TestParseErrors(t *testing.T) {
	for _, c := range []struct {
		text     string
		position int
		found    string
		expected string // a part of it
	}{
		{"", 1, "nothing", "CHANNEL:FAULT"},
		{"triac-shorted", 1, `"triac-shorted"`, "CHANNEL:FAULT"},
		{"dye:opto-one-wey", 5, `"opto-one-wey"`, "did you mean opto-one-way?"},
		{"dye:shorted-triac", 5, `"shorted-triac"`, "did you mean triac-shorted?"},
		{"dye:scald", 5, `"scald"`, "did you mean scale?"},
		{"dye:neutral", 5, `"neutral"`, "did you mean one of loose-neutral?"},
		{"dye:", 5, "nothing", "a fault of the catalogue"},
		{"dya:triac-open", 1, `"dya"`, "did you mean dye?"},
		{":triac-open", 1, "nothing", "one of the channels soak, dye, steam, or a number 1 to 3"},
		{"4:triac-open", 1, `"4"`, "1 to 3"},
		{"0:triac-open", 1, `"0"`, "1 to 3"},
		{"02:triac-open", 1, `"02"`, "1 to 3"},
		{"-1:triac-open", 1, `"-1"`, "1 to 3"},
		{"board:triac-open", 1, "board", "a channel"},
		{"dye:loose-neutral", 1, "2", "board"},
		{"dye:triac-shorted,", 19, "nothing", "key=value"},
		{"dye:triac-shorted,resistance", 19, `"resistance"`, "key=value"},
		{"dye:triac-shorted,resistanse=1 Ω", 19, `the key "resistanse"`, "did you mean resistance?"},
		{"dye:triac-shorted,frm=1 min", 19, `the key "frm"`, "did you mean from?"},
		{"dye:triac-open,polarity=positive", 16, `the key "polarity"`, "of every fault"},
		{"dye:triac-shorted,resistance=1 V", 30, "a voltage", "a resistance such as 1.5 kΩ"},
		{"dye:triac-shorted,resistance=1", 30, "a number without a unit", "a resistance"},
		{"dye:triac-shorted,resistance=1,5 Ω", 30, "a number without a unit", "a resistance"},
		{"dye:triac-shorted,severity=0,5", 30, `"5"`, "a decimal point"},
		{"dye:triac-shorted,resistance=1 µΩ", 30, "1 µΩ", "1 mΩ to 1 GΩ"},
		{"dye:triac-shorted,resistance=open", 30, "open", "1 mΩ to 1 GΩ"},
		{"dye:triac-shorted,severity=2", 28, "2", "0 to 1"},
		{"dye:triac-shorted,severity=-3", 28, "-3", "0 to 1"},
		{"dye:triac-open,severity=50 %", 25, "50 %", "0 or 1"},
		{"dye:opto-one-way,polarity=negativ", 27, `"negativ"`, "did you mean negative?"},
		{"dye:opto-one-way,polarity=0", 27, `"0"`, "positive or negative"},
		{"dye:triac-open,from=25", 21, "a number without a unit", "a time such as 25 min"},
		{"dye:triac-open,from=-1 s", 21, "-1 s", "0 s to"},
		{"dye:triac-open,from=1 min,from=2 min", 27, "the key from again", "once"},
		{"dye:triac-open,junction-above=90 °C,water-above=50 °C", 49, "a second temperature", "junction"},
		{"dye:triac-open,junction-above=90 K", 31, "a temperature difference", "a temperature"},
		{"dye:triac-open,junction-above=9000 °C", 31, "9000 °C", "1500 °C"},
		{"dye:triac-open,watch=2", 22, "a channel to watch", "a condition"},
		{"dye:triac-open,half-cycles=1,watch=rinse", 36, `"rinse"`, "one of the channels"},
		{"board:earth-missing,half-cycles=1", 7, "no channel to watch (watch)", "one"},
		{"dye:triac-open,half-cycles=1.5", 28, `"1.5"`, "a whole number"},
		{"dye:triac-open,half-cycles=0", 28, `"0"`, "a whole number"},
		{"dye:film-opto,growing=1 h,steps=2000", 33, `"2000"`, "1 to 1000"},
		{"dye:film-opto,steps=20", 21, "20", "growing with it"},
		{"dye:film-opto,start=20 %", 21, "20 %", "growing with it"},
		{"dye:film-opto,severity=10 %,growing=1 h,start=20 %", 47, "20 %", "0 to the severity"},
		{"dye:triac-open,growing=1 h", 24, "a growing severity", "no degrees"},
		{"dye:link-open,on=1 s,off=1 s", 5, "an intermittent one (course)", "until a part is replaced"},
		{"dye:drive-open,on=1 s", 5, "0 s (off)", "1 ms"},
		{"dye:drive-open,on=1 s,off=1 µs", 27, "1 µs", "1 ms"},
		{"dye:drive-open,dwell=fixed", 22, "fixed dwell times", "on and off"},
		{"dye:drive-open,dwell=fixd", 22, `"fixd"`, "did you mean fixed?"},
		{"dye:triac-open,from=2 min,until=1 min", 33, "1 min", "after 2 min"},
		{"färbe:triac-open,Ω=1", 1, `"färbe"`, "one of the channels"},
		{"dye:triac-open,Ω=1,x", 16, `the key "Ω"`, "a key of triac-open"},
		{"dye:triac-open,from=1 s,Ω,x", 25, `"Ω"`, "key=value"},
		{strings.Repeat("x", 3000), 1, "3000 bytes of text", "at most 2000"},
	} {
		_, err := Parse(c.text, studio)
		var e *ParseError
		if !errors.As(err, &e) {
			t.Errorf("%q: found error %v, expected one with a position", c.text, err)
			continue
		}
		if e.Position != c.position || e.Found != c.found || !strings.Contains(e.Expected, c.expected) {
			t.Errorf("%q: found position %d, found %s, expected %s; expected position %d, found %s, expected …%s…",
				c.text, e.Position, e.Found, e.Expected, c.position, c.found, c.expected)
		}
	}
}

// A channel's name that cannot be told from something else is reached by its
// number, and a number is always a number.
func TestParseOddNames(t *testing.T) {
	names := []string{"2", "board", "a:b", "a,b", " c", "", "dye", "dye"}
	for i, want := range []string{"1", "2", "3", "4", "5", "6", "dye", "8"} {
		j := New("triac-open", i)
		text := j.Text(names)
		if text != want+":triac-open" {
			t.Errorf("channel %d: found it written %q, expected %q", i+1, text, want)
		}
		back, err := Parse(text, names)
		if err != nil || !reflect.DeepEqual(back, j) {
			t.Errorf("%q: found %+v, %v", text, back, err)
		}
	}
	if j, err := Parse("99:triac-open", nil); err != nil || j.Channel != 98 {
		t.Errorf("found %v, %v without channels, expected any number", j, err)
	}
}

func TestParseSetReportsAll(t *testing.T) {
	s, err := ParseSet([]string{"dye:triac-open", "x:triac-open", "dye:nothing"}, studio)
	if s != nil || len(flat(err)) != 2 {
		t.Errorf("found %v, %v, expected two errors and no set", s, err)
	}
}

func TestWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := randomInjection(t)
		for _, names := range [][]string{nil, studio} {
			back, err := Parse(j.Text(names), names)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(back, j) {
				t.Fatalf("found %q read as %+v, expected %+v", j.Text(names), back, j)
			}
		}
	})
}

func TestJSON(t *testing.T) {
	s := parsed(t, "dye:opto-one-way,polarity=negative,from=25 min", "board:loose-neutral,resistance=50 Ω")
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	const want = `["2:opto-one-way,polarity=negative,from=25 min","board:loose-neutral,resistance=50 Ω"]`
	if string(text) != want {
		t.Errorf("found %s, expected %s", text, want)
	}
	var back Set
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back, s) {
		t.Errorf("found %v, %v", back, err)
	}
	if _, err := json.Marshal(Set{{Fault: "triac-opn"}}); err == nil {
		t.Error("found an unknown fault written")
	}
	if err := json.Unmarshal([]byte(`["dye:triac-open"]`), &back); err == nil {
		t.Error("found a channel's name read without a board")
	}
}

func FuzzParse(f *testing.F) {
	for i := range catalogue {
		j := place(&catalogue[i])
		f.Add(j.Text(studio))
		for _, k := range catalogue[i].Keys {
			f.Add(j.With(k.Name, k.Max).Text(studio))
		}
	}
	for _, c := range CommonKeys() {
		f.Add("dye:film-opto," + c.Name + "=" + c.Example)
		f.Add("board:loose-neutral,watch=1," + c.Name + "=" + c.Example)
	}
	for _, k := range WettingKeys() {
		f.Add("dye:film-opto,dries=10 min,leak=1," + k.Name + "=" + k.Example)
		f.Add("dye:film-earth," + k.Name + "=" + k.Example)
	}
	f.Add("dye:film-opto,leak=0.5,steam=3,dries=10 min,exponent=2,dew-point=15 °C,coating=100,for=1 h")
	f.Add("2:drive-open,on=2 s,off=10 s,dwell=fixed,for=1 h")
	f.Add("soak:film-opto,growing=2h,start=10%,steps=8,until=3 h 0.5 s")
	f.Add("dye:triac-open,\x80=\xff")
	f.Add(" \t: ,=,")
	f.Fuzz(func(t *testing.T, text string) {
		j, err := Parse(text, studio)
		if err != nil {
			var e *ParseError
			if !errors.As(err, &e) || e.Position < 1 || e.Found == "" || e.Expected == "" {
				t.Fatalf("found the error %v, expected position, found and expected", err)
			}
			return
		}
		if err := j.Check(nil); err != nil {
			t.Fatalf("found %q taken: %v", text, err)
		}
		for _, names := range [][]string{nil, studio} {
			back, err := Parse(j.Text(names), names)
			if err != nil || !reflect.DeepEqual(back, j) {
				t.Fatalf("found %q read as %+v, %v, expected %+v", j.Text(names), back, err, j)
			}
		}
	})
}
