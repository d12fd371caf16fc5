package drawing_test

import (
	"testing"

	"ribdesk/internal/drawing"
)

func use() drawing.Stack {
	part := func(kind drawing.StackKind, share float64) drawing.StackPart {
		return drawing.StackPart{Kind: kind, Share: share}
	}
	return drawing.Stack{ID: "use", Title: "Machine time", Desc: "Two machines.", Width: 300,
		Rows: []drawing.StackRow{
			{Label: "Former", Figure: "31 %", Parts: []drawing.StackPart{part(drawing.StackSolid, 310), part(drawing.StackShade, 120), part(drawing.StackHatched, 60), part(drawing.StackOpen, 510)}},
			{Label: "Folder", Figure: "0 %", Parts: []drawing.StackPart{part(drawing.StackSolid, -5), part(drawing.StackOpen, 400)}},
			{Label: "Paid", Figure: "120 %", Full: 100, Parts: []drawing.StackPart{part(drawing.StackSolid, 120)}},
		},
		Key: []drawing.StackKey{{Kind: drawing.StackSolid, Name: "sold"}, {Kind: drawing.StackShade, Name: "own jobs"}, {Kind: drawing.StackHatched, Name: "out of use"}, {Kind: drawing.StackOpen, Name: "idle"}},
	}
}

func TestStack(t *testing.T) {
	golden(t, "stack", use().Picture())
	if p := (drawing.Stack{Title: "a"}).Picture(); p.Width <= 0 || p.Height <= 0 || len(p.Shapes) != 0 {
		t.Errorf("nothing draws %+v", p)
	}
}
