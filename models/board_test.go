package models_test

import (
	"fmt"
	"reflect"
	"testing"

	"boilwright/models"

	"pgregory.net/rapid"
)

// fill gives every field below v a value other than zero: slices two elements,
// pointers something to point at. Numbers count up so that all differ.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(int64(*n))
	case reflect.Float64:
		v.SetFloat(float64(*n))
	case reflect.String:
		v.SetString(fmt.Sprint(*n))
	default:
		panic(fmt.Sprintf("fill: a field of kind %v; say what its copy is", v.Kind()))
	}
}

// shared lists the paths below a and b at which the two share memory.
func shared(path string, a, b reflect.Value) []string {
	var out []string
	switch a.Kind() {
	case reflect.Pointer, reflect.Slice:
		if a.IsNil() || b.IsNil() {
			return nil
		}
		if a.Pointer() == b.Pointer() {
			return []string{path}
		}
		if a.Kind() == reflect.Pointer {
			return shared(path, a.Elem(), b.Elem())
		}
		for i := range min(a.Len(), b.Len()) {
			out = append(out, shared(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i))...)
		}
	case reflect.Struct:
		for i := range a.NumField() {
			out = append(out, shared(path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))...)
		}
	}
	return out
}

// scramble changes every number, text and truth below v in place.
func scramble(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		scramble(v.Elem())
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			scramble(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			scramble(v.Field(i))
		}
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Int, reflect.Int64:
		v.SetInt(-v.Int() - 1)
	case reflect.Float64:
		v.SetFloat(-v.Float() - 1)
	case reflect.String:
		v.SetString(v.String() + "?")
	}
}

// TestCloneIndependent: whatever a board holds, its copy is equal and shares
// nothing with it, so that no edit of the copy shows in the original.
func TestCloneIndependent(t *testing.T) {
	full := func() *models.Board {
		b, n := &models.Board{}, 0
		fill(reflect.ValueOf(b).Elem(), &n)
		return b
	}
	b := full()
	c := b.Clone()
	if !reflect.DeepEqual(b, c) {
		t.Error("a copy differs from its original")
	}
	for _, path := range shared("Board", reflect.ValueOf(b), reflect.ValueOf(c)) {
		t.Errorf("%s: shared between a board and its copy", path)
	}
	scramble(reflect.ValueOf(c))
	if !reflect.DeepEqual(b, full()) {
		t.Error("an edit of the copy shows in the original")
	}
	for i := range c.Channels {
		if reflect.DeepEqual(b.Channels[i], c.Channels[i]) {
			t.Errorf("channel %d: the edit did nothing, so that the test says nothing", i)
		}
	}
}

// TestCloneEmpty: what a board lacks, its copy lacks too.
func TestCloneEmpty(t *testing.T) {
	b := &models.Board{Channels: []models.Channel{{Name: "alone"}}}
	if c := b.Clone(); !reflect.DeepEqual(b, c) {
		t.Errorf("copy %+v, want %+v", c, b)
	}
	if c := (&models.Board{}).Clone(); !reflect.DeepEqual(c, &models.Board{}) {
		t.Errorf("copy %+v of an empty board", c)
	}
}

func TestChannelIndex(t *testing.T) {
	b := &models.Board{Channels: []models.Channel{{Name: "soak"}, {Name: "dye"}}}
	for name, want := range map[string]int{"soak": 0, "dye": 1, "steam": -1, "": -1, "Soak": -1} {
		if got := b.ChannelIndex(name); got != want {
			t.Errorf("channel %q has index %d, want %d", name, got, want)
		}
	}
}

// TestDriveSource: exchanging plugs one pair after the other, by hand.
func TestDriveSource(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := &models.Board{Channels: make([]models.Channel, 4)}
		plugs := []int{0, 1, 2, 3}
		for range rapid.IntRange(0, 6).Draw(t, "crossings") {
			c := models.Crossing{A: rapid.IntRange(0, 3).Draw(t, "a"), B: rapid.IntRange(0, 3).Draw(t, "b")}
			b.Crossings = append(b.Crossings, c)
			plugs[c.A], plugs[c.B] = plugs[c.B], plugs[c.A]
		}
		for k, want := range plugs {
			if got := b.DriveSource(k); got != want {
				t.Fatalf("crossings %v: channel %d is driven by %d, want %d", b.Crossings, k, got, want)
			}
		}
	})
}

func TestNames(t *testing.T) {
	for _, c := range []struct {
		got  fmt.Stringer
		want string
	}{
		{models.LineSide, "line"}, {models.NeutralSide, "neutral"}, {models.MT1Supply, "supply"}, {models.MT1Load, "load"},
		{models.Hysteresis, "hysteresis"}, {models.Proportional, "proportional-integral"}, {models.FixedDuty, "fixed"},
	} {
		if c.got.String() != c.want {
			t.Errorf("found %q, want %q", c.got, c.want)
		}
	}
}

// An edit of a copy never shows in the board it was made from.
func ExampleBoard_Clone() {
	b := &models.Board{Channels: []models.Channel{{Name: "soak", Element: models.Element{Resistance: 44}}}}
	faulty := b.Clone()
	faulty.Channels[0].Element.Open = true
	fmt.Println(b.Channels[0].Element.Open, faulty.Channels[0].Element.Open)
	// Output: false true
}
