package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestReadBuild reads what a build from a repository records; the names are those
// that package debug documents.
func TestReadBuild(t *testing.T) {
	info := &debug.BuildInfo{
		GoVersion: "go1.26.8",
		Main:      debug.Module{Version: "v1.2.0+dirty"},
		Settings: []debug.BuildSetting{
			{Key: "GOARCH", Value: "arm64"},
			{Key: "GOOS", Value: "linux"},
			{Key: "vcs.revision", Value: "0123456789abcdef0123456789abcdef01234567"},
			{Key: "vcs.time", Value: "2026-11-25T12:00:00Z"},
			{Key: "vcs.modified", Value: "true"},
		},
	}
	data := readBuild(info)
	assert.Equal(t, buildData{
		Version:    "v1.2.0+dirty",
		Commit:     "0123456789abcdef0123456789abcdef01234567",
		CommitTime: "2026-11-25T12:00:00Z",
		Modified:   true,
		GoVersion:  "go1.26.8",
		Platform:   "linux/arm64",
	}, data)

	p := &page{}
	p.version(data)
	assert.Equal(t, `beltspan  v1.2.0+dirty
commit    0123456789abcdef0123456789abcdef01234567, modified
of        2026-11-25T12:00:00Z
go        go1.26.8
platform  linux/arm64
`, p.String())

	p = &page{}
	p.version(readBuild(&debug.BuildInfo{}))
	assert.Equal(t, `beltspan  unknown
commit    unknown
of        unknown
go        unknown
platform  unknown
`, p.String())
}
