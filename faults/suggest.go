package faults

import (
	"slices"
	"strings"
)

// didYouMean returns "; did you mean …?" with the candidate nearest to word,
// or with those that share a word with it, or nothing.
func didYouMean(word string, candidates []string) string {
	if word == "" || len(word) > 64 {
		return ""
	}
	best, least := "", 1+len([]rune(word))/3
	for _, c := range candidates {
		d := distance(word, c)
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

// distance is the number of insertions, deletions and substitutions of one
// character that turn a into b (Levenshtein, Soviet Physics Doklady 10 (1966)
// 707), by the row-by-row recurrence of Wagner and Fischer, J. ACM 21 (1974)
// 168.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			d := diagonal
			if x[i] != y[j] {
				d++
			}
			diagonal = row[j+1]
			row[j+1] = min(d, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(y)]
}
