// Package pages composes pages of reference in Markdown, one for each fault of
// the catalogue, and an index of them; and the report on a validation of rules,
// in Markdown and as one page for a browser.
//
// What a page says comes from two places only: the texts of the catalogue, and
// what was worked out of a board with the fault in it, a [Study]. Nothing of a
// page is written by hand, so that it cannot fall behind the simulation. Beside
// laying out, the package compares studies: which readings two boards have in
// common within the meters' uncertainties, and which test, the safest first,
// tells them apart, see [Reference.First].
//
// A [Validation] is laid out from what was counted, with figures that it is
// given. Names in it are other people's: they stay text, whatever they hold.
// The page for a browser loads nothing from anywhere and runs no program.
//
// The same input gives the same bytes. The package runs no simulation, draws
// no figure and writes no file: it is given results and the names of figures.
// It knows Markdown as CommonMark has it, with the pipe tables that most
// readers of it take.
package pages
