package faults

import (
	"slices"
	"strings"

	"boilwright/models/names"
)

// didYouMean returns "; did you mean …?" with the candidate nearest to word,
// or with those that share a word with it, or nothing.
func didYouMean(word string, candidates []string) string {
	if word == "" || len(word) > 64 {
		return ""
	}
	best, least := "", 1+len([]rune(word))/3
	for _, c := range candidates {
		d := names.Distance(word, c)
		if sameWords(word, c) {
			d = 0
		}
		if d < least || (d == least && best == "") {
			best, least = c, d
		}
	}
	if best != "" {
		return "; did you mean " + best + "?"
	}
	var related []string
	for _, c := range candidates {
		if slices.Contains(strings.Split(c, "-"), word) && len(related) < 8 {
			related = append(related, c)
		}
	}
	if len(related) > 0 {
		return "; did you mean one of " + strings.Join(related, ", ") + "?"
	}
	return ""
}

// sameWords reports whether two names have the same words in another order.
func sameWords(a, b string) bool {
	x, y := strings.Split(a, "-"), strings.Split(b, "-")
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}
