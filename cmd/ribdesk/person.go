package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

func init() {
	register(command{
		name:    "person",
		summary: "add, list or disable people, give one a new password, turn a second step off",
		usage:   "add|list|disable|password|second-off [flags] [E-MAIL]",
		help: `The password is read from RIBDESK_PASSWORD, else from the first line of standard
input; it is never a flag, where others on the machine could see it.

Flags:
` + listSettings(dbSetting) + `  --name NAME, --email E-MAIL, --role ROLE, --customer NUMBER   (add)

Roles: owner, counter, operator, driver, bookkeeper, customer.

Examples:
  ribdesk person add --name "Ann Smith" --email ann@example.com --role owner <password.txt
  ribdesk person list
  ribdesk person disable ann@example.com
  ribdesk person password ann@example.com <password.txt
  ribdesk person second-off ann@example.com          (phone and recovery codes lost)`,
		run: person,
	})
}

// opener is store.Open, or store.OpenExisting where a new database makes no sense.
type opener func(ctx context.Context, url string) (*store.Store, error)

func person(ctx context.Context, e env) error {
	if len(e.args) == 0 {
		return usageError{"takes add, list, disable, password or second-off"}
	}
	verb := e.args[0]
	e.args = e.args[1:]
	switch verb {
	case "add":
		return addPerson(ctx, e)
	case "list":
		return listPeople(ctx, e)
	case "disable", "password", "second-off":
		return changePerson(ctx, e, verb)
	case "-h", "--help":
		return flag.ErrHelp
	}
	return usageError{fmt.Sprintf("takes add, list, disable, password or second-off, not %q", verb)}
}

// withDesk opens a database for one piece of work.
func withDesk(ctx context.Context, open opener, db setting, work func(*desk.Desk) error) error {
	s, err := open(ctx, *db.value)
	if err != nil {
		return db.wrong("%w", err)
	}
	return errors.Join(work(desk.New(s, desk.Options{})), s.Close())
}

func addPerson(ctx context.Context, e env) error {
	fs := flags("person add")
	db := dbSetting.on(fs, e.getenv)
	name, email := fs.String("name", "", ""), fs.String("email", "", "")
	role, customer := fs.String("role", "", ""), fs.Int64("customer", 0, "")
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return err
	}
	p := party.Person{Name: *name, Email: *email, Role: party.Role(*role), CustomerID: *customer}
	if err := p.Check(); err != nil {
		return err
	}
	password, err := readPassword(e)
	if err != nil {
		return err
	}
	return withDesk(ctx, store.Open, db, func(d *desk.Desk) error {
		p, err := d.AddPerson(ctx, party.System, p, password)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(e.stdout, "%s (%s) can sign in with %s\n", p.Name, p.Role, p.Email)
		return err
	})
}

func readPassword(e env) (string, error) {
	if p := e.getenv(passwordKey); p != "" {
		return p, nil
	}
	line, err := bufio.NewReader(io.LimitReader(e.stdin, 4096)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("read the password: %w", err)
	}
	if line = strings.TrimRight(line, "\r\n"); line == "" {
		return "", usageError{"needs the password on standard input or in RIBDESK_PASSWORD"}
	}
	return line, nil
}

func listPeople(ctx context.Context, e env) error {
	fs := flags("person list")
	db := dbSetting.on(fs, e.getenv)
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return err
	}
	return withDesk(ctx, store.OpenExisting, db, func(d *desk.Desk) error {
		people, err := d.People(ctx, party.System)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(e.stdout, 0, 4, 2, ' ', 0)
		fmt.Fprintln(w, "E-MAIL\tNAME\tROLE\tCUSTOMER\tSTATE")
		for _, p := range people {
			state := "may sign in"
			if p.Disabled {
				state = "may not sign in"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%s\n", p.Email, p.Name, p.Role, p.CustomerID, state)
		}
		return w.Flush()
	})
}

func changePerson(ctx context.Context, e env, verb string) error {
	fs := flags("person " + verb)
	db := dbSetting.on(fs, e.getenv)
	args, err := parse(fs, e.args, 1, "the person's e-mail address")
	if err != nil {
		return err
	}
	var password string
	if verb == "password" {
		if password, err = readPassword(e); err != nil {
			return err
		}
	}
	return withDesk(ctx, store.OpenExisting, db, func(d *desk.Desk) error {
		p, err := personByEmail(ctx, d, args[0])
		if err != nil {
			return err
		}
		switch verb {
		case "disable":
			err = d.DisablePerson(ctx, party.System, p.ID)
		case "second-off":
			err = d.ResetSecondStep(ctx, party.System, p.ID)
		default:
			err = d.SetPassword(ctx, party.System, p.ID, password)
		}
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(e.stdout, "%s: done, and signed out everywhere\n", p.Email)
		return err
	})
}

func personByEmail(ctx context.Context, d *desk.Desk, email string) (party.Person, error) {
	people, err := d.People(ctx, party.System)
	if err != nil {
		return party.Person{}, err
	}
	for _, p := range people {
		if strings.EqualFold(p.Email, email) {
			return p, nil
		}
	}
	return party.Person{}, fmt.Errorf("nobody signs in with %s", email)
}
