package evidence

import "boilwright/models/names"

// suggest returns "; did you mean …?" with the candidate nearest to what was
// written, or nothing.
func suggest(text string, candidates []string) string {
	best := names.Nearest(text, candidates)
	if best == "" {
		return ""
	}
	return "; did you mean " + best + "?"
}
