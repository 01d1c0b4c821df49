//go:build !unix

package checker

import "os/exec"

func group(*exec.Cmd) {}

func kill(cmd *exec.Cmd) { _ = cmd.Process.Kill() }
