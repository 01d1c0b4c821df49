// Package names finds the name that a person may have meant by one that is not
// known. It knows letters only, not what the names stand for.
package names

import "strings"

// longest is the length in bytes of a text beyond which no name is meant.
const longest = 48

// Nearest returns the candidate that a person may have meant by text, or
// nothing: the first of those that differ least, in no more than a third of its
// letters and at least in one. Capitals do not count.
func Nearest(text string, candidates []string) string {
	best, least := "", max(1, min(len(text), 24)/3)+1
	if len(text) > longest {
		return ""
	}
	for _, c := range candidates {
		if d := Distance(strings.ToLower(text), strings.ToLower(c)); d < least {
			best, least = c, d
		}
	}
	return best
}

// Distance is the number of insertions, deletions and substitutions of one
// character, and of swaps of neighbours, that turn a into b, no part of a being
// edited twice (optimal string alignment): the recurrence of Wagner and Fischer,
// J. ACM 21 (1974) 168, for the distance of Damerau, Comm. ACM 7 (1964) 171.
func Distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := range x {
		row[0] = i + 1
		for j := range y {
			d := last[j]
			if x[i] != y[j] {
				d++
			}
			d = min(d, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				d = min(d, before[j-1]+1)
			}
			row[j+1] = d
		}
		before, last, row = last, row, before
	}
	return last[len(y)]
}
