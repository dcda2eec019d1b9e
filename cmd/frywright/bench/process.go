package bench

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Server is the program itself, serving in a process of its own.
type Server struct {
	Command *exec.Cmd
	Base    string // its address
	Meter   string // where it counts; empty: nowhere
	Log     string // the file that it writes its log to
	ended   chan error
}

// freeAddresses gives two addresses of this machine that nobody listens at.
func freeAddresses() (a, b string, err error) {
	first, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", "", err
	}
	second, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", "", errors.Join(err, first.Close())
	}
	return first.Addr().String(), second.Addr().String(), errors.Join(first.Close(), second.Close())
}

// begin starts the process and waits until it is well; it gives how long that took.
func (s *Server) begin(ctx context.Context) (time.Duration, error) {
	s.ended = make(chan error, 1)
	log, err := os.Create(s.Log)
	if err != nil {
		return 0, err
	}
	s.Command.Stderr = log
	began := time.Now()
	err = s.Command.Start()
	if err = errors.Join(err, log.Close()); err != nil { // the process has its own handle
		return 0, err
	}
	go func() { s.ended <- s.Command.Wait() }()
	for time.Since(began) < patience {
		if well(ctx, s.Base) {
			return time.Since(began), nil
		}
		select {
		case err := <-s.ended:
			return 0, fmt.Errorf("the server ended: %w: %s", err, s.said())
		case <-ctx.Done():
			return 0, errors.Join(ctx.Err(), s.stop())
		case <-time.After(time.Millisecond):
		}
	}
	return 0, errors.Join(errors.New("the server is not well in time"), s.stop())
}

func well(ctx context.Context, base string) bool {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/healthz", nil)
	if err != nil {
		return false
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return false
	}
	return resp.Body.Close() == nil && resp.StatusCode == http.StatusOK
}

// said gives the end of the process's log.
func (s *Server) said() string {
	const tail = 1000
	text, err := os.ReadFile(s.Log)
	if err != nil {
		return err.Error()
	}
	return string(text[max(0, len(text)-tail):])
}

// stop asks the process to end and waits for it.
func (s *Server) stop() error {
	http.DefaultClient.CloseIdleConnections()
	if err := s.Command.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	select {
	case err := <-s.ended:
		if err != nil {
			err = fmt.Errorf("the server: %w: %s", err, s.said())
		}
		return err
	case <-time.After(patience):
		return errors.Join(errors.New("the server does not end"), s.Command.Process.Kill())
	}
}

// status gives lines of /proc/PID/status that are sizes, in MB.
func (s *Server) status(names ...string) (map[string]float64, error) {
	text, err := os.ReadFile(s.proc("status"))
	if err != nil {
		return nil, err
	}
	sizes := map[string]float64{}
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		name, value, _ := strings.Cut(lines.Text(), ":")
		kB, found := strings.CutSuffix(strings.TrimSpace(value), " kB")
		if n, err := strconv.ParseFloat(strings.TrimSpace(kB), 64); found && err == nil {
			sizes[name] = n / 1000
		}
	}
	for _, n := range names {
		if _, had := sizes[n]; !had {
			return nil, fmt.Errorf("no %s in %s", n, s.proc("status"))
		}
	}
	return sizes, lines.Err()
}

func (s *Server) proc(name string) string {
	return filepath.Join("/proc", strconv.Itoa(s.Command.Process.Pid), name)
}

// handles gives how many files and sockets the process has open.
func (s *Server) handles() (int, error) {
	list, err := os.ReadDir(s.proc("fd"))
	return len(list), err
}

// goroutines asks the process's meter; 0 where it has none.
func (s *Server) goroutines(ctx context.Context) (float64, error) {
	if s.Meter == "" {
		return 0, nil
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, s.Meter, nil)
	if err != nil {
		return 0, err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	lines := bufio.NewScanner(resp.Body)
	for lines.Scan() {
		if text, found := strings.CutPrefix(lines.Text(), "go_goroutines "); found {
			return strconv.ParseFloat(text, 64)
		}
	}
	return 0, errors.Join(lines.Err(), errors.New("the meter says nothing of goroutines"))
}
