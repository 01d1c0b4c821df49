// Boilwright simulates a three-channel zero-cross heater controller, circuit
// and heat together, with the faults that it can have. See package command.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"boilwright/cmd/boilwright/command"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	code := command.Execute(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
