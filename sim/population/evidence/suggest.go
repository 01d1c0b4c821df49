package evidence

import "strings"

// suggest returns "; did you mean …?" with the candidate nearest to what was
// written, or nothing.
func suggest(text string, candidates []string) string {
	if text == "" || len(text) > 64 {
		return ""
	}
	best, least := "", 1+len([]rune(text))/3
	for _, c := range candidates {
		if d := distance(strings.ToLower(text), strings.ToLower(c)); d < least || d == least && best == "" {
			best, least = c, d
		}
	}
	if best == "" {
		return ""
	}
	return "; did you mean " + best + "?"
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
