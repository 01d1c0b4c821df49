package boardfile

import (
	"slices"
	"strings"
	"sync"

	"boilwright/models"
)

// upstreamFields are the link ahead of all channels, which may be missing.
var upstreamFields = append([]field{{
	key: "upstream-link.fitted", kind: booleanKind, def: "false", presence: true,
	doc:      "one thermal link ahead of all channels",
	computed: "true where its table says anything else",
	compute:  func(*models.Board, any) any { return false },
	get:      func(t any) (any, bool) { return t.(*models.Board).Upstream != nil, true },
	set: func(t, v any) {
		b := t.(*models.Board)
		b.Upstream = nil
		if v.(bool) {
			b.Upstream = &models.ThermalLink{}
		}
	},
}}, linkFields("upstream-link", func(b *models.Board) *models.ThermalLink { return b.Upstream })...)

// boardGroup and channelGroup are the table of fields. Order is the order of
// everything printed, and a field computed from another comes after it.
var (
	boardGroup = group{
		fields: slices.Concat(supplyFields, upstreamFields, housingFields, controllerFields, monitorFields),
		lists:  slices.Concat(supplyLists, []list{onPeriodList, couplingList, crossingList, meterList, clampList, bridgeList}),
	}
	channelGroup = group{
		fields: slices.Concat(switchFields, thermostatFields, linkFields("link", func(c *models.Channel) *models.ThermalLink { return &c.Link }),
			elementFields, boilerFields, probeFields, controlFields),
		lists: []list{fosterList, drawList},
	}
)

// The keys that are no value of a board.
const (
	basedOnKey      = "based-on"
	channelsKey     = "channels"
	channelKey      = "channel"
	everyChannelKey = "every-channel"
)

var structure = []struct{ key, doc string }{
	{basedOnKey, "another board to start from: the name of an embedded board, or a path from this file"},
	{channelsKey, "the names of the channels in order; without it, the order in which their tables first appear"},
	{channelKey, "one table a channel, by its name: lower-case letters, digits and hyphens"},
	{everyChannelKey, "values for all channels that don't set them themselves"},
}

// branch is one level of the keys that a file may have.
type branch struct {
	keys     []string
	children map[string]*branch

	field *field
	other bool // the field's other way of writing
	list  *list
	items *branch // of the list
	key   string  // one of structure
}

func (b *branch) grow(path string) *branch {
	for k := range strings.SplitSeq(path, ".") {
		c := b.children[k]
		if c == nil {
			c = &branch{}
			if b.children == nil {
				b.children = map[string]*branch{}
			}
			b.keys = append(b.keys, k)
			b.children[k] = c
		}
		b = c
	}
	return b
}

func branches(fields []field, lists []list) *branch {
	root := &branch{}
	for i := range fields {
		f := &fields[i]
		root.grow(f.key).field = f
		if f.other != nil {
			c := root.grow(f.other.key)
			c.field, c.other = f, true
		}
	}
	for i := range lists {
		l := &lists[i]
		c := root.grow(l.key)
		c.list, c.items = l, branches(l.fields, nil)
	}
	return root
}

var boardBranch = sync.OnceValue(func() *branch {
	b := branches(boardGroup.fields, boardGroup.lists)
	for _, s := range structure {
		b.grow(s.key).key = s.key
	}
	return b
})

var channelBranch = sync.OnceValue(func() *branch { return branches(channelGroup.fields, channelGroup.lists) })

// alternatives are the pairs of keys that say the same, without their table.
var alternatives = sync.OnceValue(func() [][2]string {
	var pairs [][2]string
	for _, f := range channelGroup.fields {
		if f.other != nil {
			pairs = append(pairs, [2]string{lastKey(f.key), lastKey(f.other.key)})
		}
	}
	return pairs
})

func lastKey(path string) string { return path[strings.LastIndexByte(path, '.')+1:] }

func tableOf(path string) string { return path[:max(0, strings.LastIndexByte(path, '.'))] }

// where returns the paths of a key somewhere below b.
func (b *branch) where(key string) []string {
	var paths []string
	for _, k := range b.keys {
		c := b.children[k]
		if k == key && c.children == nil {
			paths = append(paths, k)
		}
		for _, p := range c.where(key) {
			paths = append(paths, k+"."+p)
		}
	}
	return paths
}
