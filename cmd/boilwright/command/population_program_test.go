package command

import (
	"regexp"
	"runtime/debug"
	"testing"
)

// TestProgram: builds that may compute something else have other names.
func TestProgram(t *testing.T) {
	own := func() string { return "file-0123456789ab" }
	build := func(module, goVersion string, settings ...string) *debug.BuildInfo {
		b := &debug.BuildInfo{GoVersion: goVersion, Main: debug.Module{Version: module}}
		for i := 0; i < len(settings); i += 2 {
			b.Settings = append(b.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
		}
		return b
	}
	const revision = "89fa1d9610885204b91161a557ece1455b90719b"
	for _, c := range []struct {
		build *debug.BuildInfo
		want  string
	}{
		{build("v0.0.0-2026", "go1.26.8", "GOARCH", "amd64", "GOAMD64", "v1", "vcs.revision", revision, "vcs.modified", "false"), "0.1.0+89fa1d961088.go1.26.8.amd64-v1"},
		{build("v0.0.0-2026", "go1.26.8", "GOARCH", "amd64", "GOAMD64", "v3", "vcs.revision", revision, "vcs.modified", "false"), "0.1.0+89fa1d961088.go1.26.8.amd64-v3"},
		{build("v0.0.0-2026", "go1.26.8", "GOARCH", "arm64", "GOARM64", "v8.0", "vcs.revision", revision, "vcs.modified", "true"), "0.1.0+file-0123456789ab.go1.26.8.arm64-v8.0"},
		{build("(devel)", "go1.26.8 X:none", "GOARCH", "amd64"), "0.1.0+file-0123456789ab.go1.26.8-X-none.amd64"},
		{build("v0.1.0", "go1.26.9", "GOARCH", "amd64"), "0.1.0+v0.1.0.go1.26.9.amd64"},
	} {
		if got := programOf("0.1.0", c.build, own); got != c.want {
			t.Errorf("found %q, expected %q", got, c.want)
		}
	}
	if got := program(); got != program() || !regexp.MustCompile(`^`+regexp.QuoteMeta(Version)+`\+[-.0-9A-Za-z]+$`).MatchString(got) {
		t.Errorf("found %q", got)
	}
	if got := ownBytes(); !regexp.MustCompile(`^file-[0-9a-f]{12}$`).MatchString(got) {
		t.Errorf("found %q, expected a sum of this program's file", got)
	}
}
