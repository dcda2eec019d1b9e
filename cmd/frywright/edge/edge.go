// Package edge is where the network meets the pages: certificates, the way from HTTP to HTTPS, which proxies are believed,
// how long a connection may take. It must not know of any page, nor of the store.
package edge

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"time"

	"golang.org/x/net/netutil"
)

// Times bounds how long a connection may take. Zero values stand for the usual ones.
type Times struct {
	Header time.Duration // until the head of a request is there
	Read   time.Duration // until all of a request is there; pages that take files extend it
	Write  time.Duration // from then on until the answer is taken
	Idle   time.Duration // between requests
	Stop   time.Duration // until what is under way is cut off when the server stops
}

// UsualTimes are for people with a bad signal and against strangers who dawdle.
func UsualTimes() Times {
	return Times{Header: 10 * time.Second, Read: 30 * time.Second, Write: 120 * time.Second, Idle: 120 * time.Second, Stop: 15 * time.Second}
}

// OrUsual gives the usual times where none are said.
func (t Times) OrUsual() Times {
	if t == (Times{}) {
		return UsualTimes()
	}
	return t
}

// Limits against strangers.
const (
	headerMost = 32 << 10 // bytes of a request's head
	openMost   = 4096     // connections at once on one address; more wait until one is closed
)

// Outlet is one address with what is served there.
type Outlet struct {
	Listener net.Listener
	Handler  http.Handler
	TLS      *tls.Config // nil: plain HTTP
}

// Serve serves all outlets until the context ends or one of them fails, then lets what is under way finish.
func Serve(ctx context.Context, log *slog.Logger, times Times, outlets ...Outlet) error {
	servers := make([]*http.Server, len(outlets))
	failed := make(chan error, len(outlets))
	for i, o := range outlets {
		servers[i] = &http.Server{
			Handler: o.Handler, TLSConfig: o.TLS, MaxHeaderBytes: headerMost,
			ReadHeaderTimeout: times.Header, ReadTimeout: times.Read, WriteTimeout: times.Write, IdleTimeout: times.Idle,
			ErrorLog: errorLog(log),
		}
		go func() { failed <- serveOne(servers[i], netutil.LimitListener(o.Listener, openMost)) }()
	}
	var err error
	select {
	case err = <-failed:
	case <-ctx.Done():
		log.Info("stopping")
	}
	return errors.Join(err, stop(ctx, log, times.Stop, servers))
}

func serveOne(server *http.Server, l net.Listener) error {
	if server.TLSConfig != nil {
		return server.ServeTLS(l, "", "")
	}
	return server.Serve(l)
}

// stop lets what is under way finish for a while, then cuts it off.
func stop(ctx context.Context, log *slog.Logger, within time.Duration, servers []*http.Server) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), within)
	defer cancel()
	var errs []error
	for _, server := range servers {
		err := server.Shutdown(ctx)
		if errors.Is(err, context.DeadlineExceeded) {
			log.Warn("cut off what was still under way")
			err = server.Close()
		}
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}
