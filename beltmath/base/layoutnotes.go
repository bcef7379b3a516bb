package base

import "github.com/beltspan/beltspan/beltmath"

func (p *layoutProblem) notes(l *Layout) []beltmath.Note { return nil }
