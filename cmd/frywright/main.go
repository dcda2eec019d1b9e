// Command frywright is the whole of the server: it serves the pages and keeps the database, and its other commands import
// files, add people, rebuild, verify and back up.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"
	"time"

	"frywright/cmd/frywright/edge"
	"frywright/domain/fault"

	"github.com/alecthomas/kong"
	"github.com/google/uuid"
)

// program is the command line. Every flag can also be given as an environment variable: FRYWRIGHT_ and the flag's name.
type program struct {
	Data string `help:"Folder of the database." default:"data" type:"path" env:"FRYWRIGHT_DATA"`
	Log  string `help:"How much is logged: debug, info, warn, error." default:"info" enum:"debug,info,warn,error" env:"FRYWRIGHT_LOG"`

	Serve       serveCommand       `cmd:"" default:"withargs" help:"Serve the pages. Without people it prints a set-up link, to be used once."`
	Demo        demoCommand        `cmd:"" help:"Serve an invented fleet, made anew at every start, and print its sign-ins."`
	Import      importCommand      `cmd:"" help:"Import sheets, interlocks, models, sites, fryers and standards from CSV files."`
	User        userCommand        `cmd:"" help:"Add a person and print their invitation, or list the people."`
	Rebuild     rebuildCommand     `cmd:"" help:"Drop the tables that the journal can make again, and replay it."`
	Verify      verifyCommand      `cmd:"" help:"Look the whole file and the whole journal through and say what does not hold; beside a running server, too."`
	Backup      backupCommand      `cmd:"" help:"Write a copy of the database while it is in use, and look it through."`
	Restore     restoreCommand     `cmd:"" help:"Put a backup in the place of the database, which is kept aside. The server must not run."`
	Schema      schemaCommand      `cmd:"" help:"Print the database's form." hidden:""`
	Bench       benchCommand       `cmd:"" help:"Measure the program over a large invented fleet."`
	Healthcheck healthcheckCommand `cmd:"" help:"Ask a running server whether it is well: for containers."`
}

// stopped is the exit status of a command that was asked to stop, as shells give it for an interrupt.
const stopped = 130

func main() {
	if err := run(os.Args[1:]); err != nil {
		text, code := err.Error(), 1
		if message := fault.MessageOf(err); message != "" {
			text = message
			for _, f := range fault.FieldsOf(err) {
				text += "\n  " + f.Name + ": " + f.Message
			}
		}
		if errors.Is(err, context.Canceled) {
			text, code = "stopped before it was done", stopped
		}
		fmt.Fprintln(os.Stderr, "frywright: "+text)
		os.Exit(code)
	}
}

// run parses the arguments and runs the command until it ends or the process is asked to stop.
func run(args []string) error {
	var p program
	parser, err := kong.New(&p, kong.Name("frywright"),
		kong.Description("The maintenance record of a fleet of fryers: how every controller should be set, how it was found and left."),
		kong.UsageOnError(), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		return err
	}
	thrifty()
	command, err := parser.Parse(args)
	parser.FatalIfErrorf(err)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // asked a second time, the process ends at once
	return command.Run(&environment{ctx: ctx, data: p.Data, log: logger(p.Log), out: os.Stdout, now: now})
}

// environment is what every command is given.
type environment struct {
	ctx     context.Context
	data    string
	log     *slog.Logger
	out     io.Writer
	now     func() time.Time
	observe func(query string, took time.Duration) // is told of every statement; nil: nobody asks
	door    *door                                  // how the server is reached; nil for the plain one
	times   edge.Times                             // zero: the usual ones
}

func logger(level string) *slog.Logger {
	var l slog.Level
	if err := l.UnmarshalText([]byte(level)); err != nil {
		l = slog.LevelInfo
	}
	return slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: l}))
}

func now() time.Time { return time.Now().UTC() }

// newID makes a UUIDv7; without randomness the machine cannot go on.
func newID() uuid.UUID { return uuid.Must(uuid.NewV7()) }
