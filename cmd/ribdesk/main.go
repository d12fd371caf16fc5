// Command ribdesk is the order desk of a cut-and-drop shop: it serves the pages,
// and prices, plans and nests described work from the command line.
//
// This package only reads flags and environment, ties the rooms together and
// writes results; every decision is made below internal/. One file a command.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sort"
	"strings"
	"syscall"

	"ribdesk/internal/fault"
)

// env is what a command may touch of the world outside, so that tests run one
// without a process.
type env struct {
	args   []string // after the command's name
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	getenv func(string) string
	names  []string // of the variables there are
}

// command is one word after ribdesk.
type command struct {
	name    string
	summary string // one line for the list
	usage   string // arguments, after the name
	help    string // paragraphs and examples
	run     func(ctx context.Context, e env) error
}

// commands are registered by their files.
var commands = map[string]command{}

func register(c command) { commands[c.name] = c }

// Exit codes: 0 done, 1 refused or failed, 2 called wrongly.
const (
	exitOK = iota
	exitFailed
	exitUsage
)

// usageError is a call that names no work: unknown flag, missing argument.
type usageError struct{ msg string }

func (u usageError) Error() string { return u.msg }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	e := env{args: os.Args[1:], stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv}
	for _, variable := range os.Environ() {
		name, _, _ := strings.Cut(variable, "=")
		e.names = append(e.names, name)
	}
	os.Exit(run(ctx, e))
}

// run finds the command and runs it; an error becomes one line on stderr.
func run(ctx context.Context, e env) int {
	if len(e.args) == 0 {
		printHelp(e.stderr)
		return exitUsage
	}
	name := e.args[0]
	e.args = e.args[1:]
	if name == "help" || name == "--help" || name == "-h" {
		return help(e)
	}
	c, ok := commands[name]
	if !ok {
		return unknown(e, name)
	}
	err := knownSettings(e.names)
	if err == nil {
		err = c.run(ctx, e)
	}
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, flag.ErrHelp):
		printCommandHelp(e.stdout, c)
		return exitOK
	default:
		var usage usageError
		if errors.As(err, &usage) {
			fmt.Fprintf(e.stderr, "ribdesk %s: %s; 'ribdesk help %s' shows how\n", name, usage.msg, name)
			return exitUsage
		}
		fmt.Fprintf(e.stderr, "ribdesk %s: %s\n", name, oneLine(err))
		return exitFailed
	}
}

// help prints the list of commands, or how to call one of them.
func help(e env) int {
	if len(e.args) == 0 {
		printHelp(e.stdout)
		return exitOK
	}
	c, ok := commands[e.args[0]]
	if !ok {
		return unknown(e, e.args[0])
	}
	printCommandHelp(e.stdout, c)
	return exitOK
}

func unknown(e env, name string) int {
	fmt.Fprintf(e.stderr, "ribdesk: there is no command %q; 'ribdesk help' lists them\n", name)
	return exitUsage
}

// oneLine says what and where in one line. A person's fault is told as it is;
// of a system's error its cause, since whoever runs commands owns the machine.
func oneLine(err error) string {
	var list fault.List
	if errors.As(err, &list) && len(list) > 1 {
		return fmt.Sprintf("%s (and %d more)", list[0].Error(), len(list)-1)
	}
	text := err.Error()
	var f *fault.Fault
	if errors.As(err, &f) && f.Kind == fault.Storage && f.Cause != nil {
		text = strings.Replace(text, f.Error(), f.Cause.Error(), 1)
	}
	return strings.Join(strings.Fields(text), " ")
}

// flags gives a quiet flag set; its errors come back as usage errors.
func flags(name string) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Usage = func() {}
	return fs
}

// someArguments lets parse take one argument or more.
const someArguments = -1

// parse reads flags that may stand before or after the arguments and gives the
// arguments, refusing more or fewer than wanted.
func parse(fs *flag.FlagSet, args []string, want int, what string) ([]string, error) {
	var rest []string
	for {
		if err := fs.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				return nil, err
			}
			return nil, usageError{err.Error()}
		}
		if fs.NArg() == 0 {
			break
		}
		rest = append(rest, fs.Arg(0))
		args = fs.Args()[1:]
	}
	if len(rest) != want && (want != someArguments || len(rest) == 0) {
		if want == 0 {
			return nil, usageError{fmt.Sprintf("takes no arguments, got %q", rest[0])}
		}
		return nil, usageError{"takes " + what}
	}
	return rest, nil
}

func printHelp(w io.Writer) {
	fmt.Fprint(w, "ribdesk is an order desk for cut-and-drop work on a portable roll former.\n\nUsage: ribdesk COMMAND [flags] [arguments]\n\nCommands:\n")
	names := make([]string, 0, len(commands))
	for n := range commands {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		fmt.Fprintf(w, "  %-9s %s\n", n, commands[n].summary)
	}
	fmt.Fprint(w, "\n'ribdesk help COMMAND' shows its flags and examples. Exit codes: 0 done, 1 refused or failed, 2 called wrongly.\n")
}

func printCommandHelp(w io.Writer, c command) {
	fmt.Fprintf(w, "Usage: ribdesk %s %s\n\n%s\n\n%s\n", c.name, c.usage, c.summary, strings.TrimSpace(c.help))
}
