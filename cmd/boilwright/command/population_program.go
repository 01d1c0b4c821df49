package command

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime/debug"
	"strings"
	"sync"
)

// program names the program closely enough that two of the same name compute
// the same: its version, what it was built from, by which Go and for which
// processor, as in 0.1.0+89fa1d961088.go1.26.8.amd64-v1. What it was built
// from is the revision; where that is not known or was changed, the program's
// own bytes.
var program = sync.OnceValue(func() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return Version + "+" + ownBytes()
	}
	return programOf(Version, info, ownBytes)
})

// programOf is the name for what a build tells of itself.
func programOf(version string, info *debug.BuildInfo, own func() string) string {
	setting := map[string]string{}
	for _, s := range info.Settings {
		setting[s.Key] = s.Value
	}
	from := setting["vcs.revision"]
	switch {
	case from != "" && setting["vcs.modified"] == "false":
		from = from[:min(len(from), 12)]
	case from == "" && info.Main.Version != "" && info.Main.Version != "(devel)":
		from = info.Main.Version // fetched by its version
	default:
		from = own()
	}
	// Of each processor, whether products and sums are rounded together depends
	// on its level too.
	arch := setting["GOARCH"]
	if level := setting["GO"+strings.ToUpper(arch)]; level != "" {
		arch += "-" + level
	}
	text := version + "+" + from + "." + info.GoVersion + "." + arch
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || strings.ContainsRune("+-.", r) {
			return r
		}
		return '-'
	}, text)
}

// ownBytes is the begin of the SHA-256 of the program's file.
func ownBytes() string {
	const unknown = "unknown"
	name, err := os.Executable()
	if err != nil {
		return unknown
	}
	f, err := os.Open(name)
	if err != nil {
		return unknown
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return unknown
	}
	return "file-" + hex.EncodeToString(h.Sum(nil))[:12]
}
