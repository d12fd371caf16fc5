package web

import (
	"strings"

	"ribdesk/internal/desk"
)

// programsPage lists the programs that may ask over the API, and lets one in.
type programsPage struct {
	Base
	Programs []desk.Program
	Name     Field
	May      []*Field // one for each scope
	Token    string   // of the one just let in, shown once
	Of       string   // its name, or the address of the hook just added
	Hooks    []desk.Hook
	Hook     hookFields
	Secret   string // of the hook just added, shown once
}

func (programsPage) file() string { return "programs" }

var scopeSentence = map[desk.Scope]string{
	desk.MayPrice:     "Price orders without keeping them",
	desk.MayReadOrder: "Read orders",
	desk.MayMakeOrder: "Take, quote and accept orders",
	desk.MayReadPaper: "Read papers",
	desk.MayReadCoil:  "Read coils on hand",
	desk.MayReadFirm:  "Read customers",
}

func (v *visit) newProgramsPage() (*programsPage, error) {
	p := &programsPage{
		Base: Base{Title: "Programs", Sheet: "Shop"},
		Name: Field{Name: "name", Label: "Name of the program", Auto: "off"},
	}
	for _, s := range desk.Scopes {
		p.May = append(p.May, &Field{Name: "may." + strings.ReplaceAll(string(s), ":", "-"), Label: scopeSentence[s], Kind: "checkbox", Optional: true})
	}
	p.Hook = newHookFields()
	var err error
	if p.Hooks, err = v.desk.Hooks(v.ctx(), v.actor); err != nil {
		return nil, err
	}
	p.Programs, err = v.desk.Programs(v.ctx(), v.actor)
	return p, err
}

func showPrograms(v *visit) error {
	p, err := v.newProgramsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doAddProgram(v *visit) error {
	p, err := v.newProgramsPage()
	if err != nil {
		return err
	}
	name := v.text(&p.Name)
	var scopes []desk.Scope
	for i, s := range desk.Scopes {
		if v.yes(p.May[i]) {
			scopes = append(scopes, s)
		}
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	token, made, err := v.desk.AddProgram(v.ctx(), v.actor, name, scopes)
	if err != nil {
		return v.again(p, err)
	}
	fresh, err := v.newProgramsPage()
	if err != nil {
		return err
	}
	fresh.Token, fresh.Of = token, made.Name
	return v.show(fresh)
}

func doRevokeProgram(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	if err := v.desk.RevokeProgram(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.redirectSaying("/shop/programs", "It is shut out; its token is worth nothing from now on.")
}
