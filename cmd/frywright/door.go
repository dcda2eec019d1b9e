package main

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"frywright/cmd/frywright/edge"
	"frywright/cmd/frywright/meter"
	"frywright/web"
)

// door is how a server is reached: its addresses, its certificates, whom it believes, who counts.
type door struct {
	main      net.Listener
	plain     net.Listener      // sends on to HTTPS; nil: none
	metrics   net.Listener      // nil: none
	certs     edge.Certificates // nil: plain HTTP
	proxies   edge.Proxies
	meter     *meter.Meter // nil: nobody counts
	base      string       // where people reach it
	secure    bool
	accessLog slog.Level
	limits    web.Limits
	times     edge.Times
}

// certificates is the folder in the data folder where certificates are kept that were obtained.
const certificates = "certificates"

// door opens everything that the flags ask for.
func (c serveCommand) door(e *environment) (d *door, err error) {
	d = &door{times: e.times}
	defer func() {
		if err != nil {
			err = errors.Join(err, d.close())
		}
	}()
	if c.AccessLog == "debug" {
		d.accessLog = slog.LevelDebug
	}
	if d.proxies, err = edge.ParseProxies(c.TrustProxy); err != nil {
		return d, err
	}
	if d.certs, err = c.certs(e); err != nil {
		return d, err
	}
	if err := c.listen(d); err != nil {
		return d, err
	}
	d.base = strings.TrimRight(c.Base, "/")
	if d.base == "" {
		d.base = c.baseOf(d)
	}
	d.secure = d.certs != nil || strings.HasPrefix(d.base, "https://") || len(d.proxies) > 0 && !strings.HasPrefix(c.Base, "http://")
	return d, nil
}

func (c serveCommand) certs(e *environment) (edge.Certificates, error) {
	switch {
	case len(c.Domain) > 0:
		config := edge.ACMEConfig{Domains: c.Domain, Cache: filepath.Join(e.data, certificates), Email: c.Email, Directory: c.Directory}
		if c.Authority != "" {
			pem, err := os.ReadFile(c.Authority)
			if err != nil {
				return nil, err
			}
			config.Authority = pem
		}
		return edge.NewACME(config)
	case c.Cert != "":
		return edge.NewFiles(c.Cert, c.Key, e.log)
	}
	return nil, nil
}

// listen opens the addresses.
func (c serveCommand) listen(d *door) (err error) {
	main, plain := "127.0.0.1:8080", "off"
	if d.certs != nil {
		main, plain = ":443", ":80"
	}
	if d.main, err = listenAt(either(c.Listen, main)); err != nil {
		return err
	}
	if plain = either(c.ListenHTTP, plain); plain != "off" {
		if d.plain, err = listenAt(plain); err != nil {
			return err
		}
	}
	if c.Metrics == "" {
		return nil
	}
	d.meter = meter.New()
	d.metrics, err = listenAt(c.Metrics)
	return err
}

func listenAt(address string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("listen: %w", err)
	}
	return l, nil
}

func either(said, usual string) string {
	if said != "" {
		return said
	}
	return usual
}

// baseOf gives the address under which people reach a door.
func (c serveCommand) baseOf(d *door) string {
	if d.certs == nil {
		return addressOf(d.main)
	}
	name := "localhost"
	if files, ok := d.certs.(*edge.Files); ok && len(files.Names()) > 0 {
		name = files.Names()[0]
	}
	if len(c.Domain) > 0 {
		name = c.Domain[0]
	}
	_, port, err := net.SplitHostPort(d.main.Addr().String())
	if err != nil {
		port = ""
	}
	return "https://" + edge.WithPort(name, port)
}

// outlets gives what is served where.
func (d *door) outlets(log *slog.Logger, l net.Listener, pages http.Handler) []edge.Outlet {
	if d.meter != nil {
		pages = d.meter.InFlight(pages)
	}
	pages = d.proxies.Believe(pages)
	main := edge.Outlet{Listener: l, Handler: pages}
	var all []edge.Outlet
	if d.certs != nil {
		main.TLS = d.certs.TLS()
		if d.plain != nil {
			all = append(all, edge.Outlet{Listener: d.plain, Handler: d.certs.Challenge(edge.Redirect(d.certs.Owns, d.publicPort(), pages))})
		}
		if acme, ok := d.certs.(*edge.ACME); ok {
			go acme.Prepare(log)
		}
	}
	if d.metrics != nil {
		all = append(all, edge.Outlet{Listener: d.metrics, Handler: d.meter.Handler()})
		log.Info("metrics", "at", "http://"+d.metrics.Addr().String()+"/metrics")
	}
	return append(all, main)
}

// publicPort is the port at which people reach HTTPS.
func (d *door) publicPort() string {
	_, port, err := net.SplitHostPort(strings.TrimPrefix(d.base, "https://"))
	if err != nil {
		return ""
	}
	return port
}

// ran gives what is told of every statement; nil where nobody asks.
func (d *door) ran(log *slog.Logger, most time.Duration) func(query string, took time.Duration) {
	if d.meter == nil && most <= 0 {
		return nil
	}
	return func(query string, took time.Duration) {
		slow := most > 0 && took > most
		if d.meter != nil {
			d.meter.Ran(query, took, slow)
		}
		if slow { // the text alone: what it was asked with may be of a person
			log.Warn("slow query", "took", took.Round(time.Microsecond), "statement", strings.Join(strings.Fields(query), " "))
		}
	}
}

// close closes the addresses.
func (d *door) close() error {
	var errs []error
	for _, l := range []net.Listener{d.main, d.plain, d.metrics} {
		if l == nil {
			continue
		}
		if err := l.Close(); !errors.Is(err, net.ErrClosed) { // a server that ran has closed it
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
