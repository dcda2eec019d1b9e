package fryer

import (
	"net/http"
	"time"

	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/google/uuid"
)

// ahead is how far a person's watch may be ahead of ours.
const ahead = 10 * time.Minute

// begin reads the form of a POST and its fryer.
func (p *Pages) begin(w http.ResponseWriter, r *http.Request) (state.Fryer, error) {
	if err := form.Parse(w, r); err != nil {
		return state.Fryer{}, err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return state.Fryer{}, err
	}
	return p.Store.Fryer(r.Context(), id)
}

// record records one fact about the fryer, unless the form was wrong already.
func (p *Pages) record(r *http.Request, fryer uuid.UUID, read fault.Fields, body journal.Body) error {
	if err := read.Err(); err != nil {
		return err
	}
	if err := body.Validate(); err != nil {
		return err
	}
	_, err := p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: fryer, Body: body})
	return err
}

// NoteEvent takes in that something happened that can make a controller lose its settings.
func (p *Pages) NoteEvent(w http.ResponseWriter, r *http.Request) error {
	f, err := p.begin(w, r)
	if err != nil {
		return err
	}
	var read fault.Fields
	happened := form.Moment(r, &read, "happened", f.Zone)
	if happened.After(p.Now().Add(ahead)) {
		read.Add("happened", "That lies in the future. Give the day and time when it happened.")
	}
	body := snapshot.Event{What: cause.EventKind(form.Text(r, "what")), Happened: happened, Note: form.Text(r, "note")}
	if len(read) > 0 && body.What == "" {
		read.Add("what", "Say what happened.")
	}
	if err = p.record(r, f.ID, read, body); shown(err) {
		return p.show(w, r, f, said{What: string(body.What), Happened: form.Text(r, "happened"), Note: body.Note, Err: err, Event: true})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(f.ID), "noted")
}

// WriteNote takes in a note for the next person at the fryer.
func (p *Pages) WriteNote(w http.ResponseWriter, r *http.Request) error {
	f, err := p.begin(w, r)
	if err != nil {
		return err
	}
	text := form.Text(r, "text")
	if err = p.record(r, f.ID, nil, snapshot.Note{Text: text}); shown(err) {
		return p.show(w, r, f, said{Text: text, Err: err, Noting: true})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(f.ID), "note-saved")
}

// Accept takes in that a difference may stay at this fryer until a date.
func (p *Pages) Accept(w http.ResponseWriter, r *http.Request) error {
	f, err := p.begin(w, r)
	if err != nil {
		return err
	}
	ref, err := refOf(r)
	if err != nil {
		return err
	}
	var read fault.Fields
	until := form.Date(r, &read, "until", f.Zone)
	if !until.IsZero() && !until.After(p.Now()) {
		read.Add("until", "That day has passed. Give the last day on which it may stay.")
	}
	body := standard.Accepted{Ref: ref, Value: sheet.Value(form.Text(r, "value")), Reason: form.Text(r, "reason"), Until: until}
	if len(read) > 0 {
		read.Need("reason", body.Reason, "Say why the difference may stay.")
	}
	if err = p.record(r, f.ID, read, body); shown(err) {
		return p.showOne(w, r, f.ID, ref, accepting{Reason: body.Reason, Until: form.Text(r, "until"), Err: err})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.FryerExpectedOne(f.ID, ref), "accepted")
}

// EndAcceptance takes in that an accepted difference is drift again, before its date.
func (p *Pages) EndAcceptance(w http.ResponseWriter, r *http.Request) error {
	f, err := p.begin(w, r)
	if err != nil {
		return err
	}
	ref, err := refOf(r)
	if err != nil {
		return err
	}
	reason := form.Text(r, "reason")
	if err = p.record(r, f.ID, nil, standard.Ended{Ref: ref, Reason: reason}); shown(err) {
		return p.showOne(w, r, f.ID, ref, accepting{Reason: reason, Err: err})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.FryerExpectedOne(f.ID, ref), "ended")
}

func refOf(r *http.Request) (sheet.Ref, error) {
	ref, ok := sheet.ParseRef(form.Text(r, "ref"))
	if !ok {
		return ref, fault.New(fault.Invalid, "The form names no setting. Go back to the fryer and choose one there.")
	}
	return ref, nil
}
