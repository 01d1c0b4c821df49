// Package command is boilwright's command line: commands, flags, tables,
// documents for machines, progress and exit codes. It knows no physics: what
// it prints comes from the simulation's packages.
//
// [Execute] runs one command line with the given streams and returns its exit
// code; nothing else here touches the process. Files are written beside their
// place and renamed into it, so that none is ever half-written.
//
// Every document that --json prints is one of the structs of the file
// documents.go. Its fields carry their own documentation, from which the help
// topic "json" and the command "schema" are made.
package command
