// Package lessons composes a pack of lessons: a page a lesson with figures and
// questions, in Markdown and in HTML, an index, and a page of solutions.
//
// It is given texts, the names of figures and answers that were worked out
// elsewhere; it runs no simulation, draws nothing and writes no files. The same
// pack gives the same bytes. Every lesson that names a live test must bring its
// caution, which stands before its questions, and again before its solutions.
//
// Markdown is CommonMark's; HTML is of one page each, with its style in it and
// nothing that is loaded from elsewhere.
package lessons
