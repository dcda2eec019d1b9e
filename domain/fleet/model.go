package fleet

import (
	"frywright/domain/fault"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// Model is a fryer model.
type Model struct {
	ID          uuid.UUID    `json:"id"`
	Code        string       `json:"code"` // short, unique, for files
	Name        string       `json:"name"`
	Sheet       uuid.UUID    `json:"sheet"` // the controller type's settings sheet
	Energy      sheet.Energy `json:"energy"`
	Pot         sheet.Pot    `json:"pot"`
	RatedWatts  float64      `json:"rated_watts"` // rated input of the whole fryer, W
	OilKg       float64      `json:"oil_kg"`      // oil capacity of one vat, kg
	RatedVolts  float64      `json:"rated_volts,omitempty"`
	Phases      int          `json:"phases,omitempty"` // 1 or 3
	Burners     int          `json:"burners,omitempty"`
	Elements    int          `json:"elements,omitempty"`
	BasketLifts int          `json:"basket_lifts"`
	Recovery    RecoverySpec `json:"recovery,omitzero"`
}

// RecoverySpec is the window and the limit of the model's recovery test.
type RecoverySpec struct {
	FromF        float64 `json:"from_f"` // °F
	ToF          float64 `json:"to_f"`   // °F
	LimitSeconds float64 `json:"limit_seconds"`
}

// Appliance gives what of the model decides which settings apply.
func (m Model) Appliance() sheet.Appliance { return sheet.Appliance{Energy: m.Energy, Pot: m.Pot} }

// ModelSaved is the entry that a fryer model was made or changed.
type ModelSaved struct {
	Model Model `json:"model"`
}

// Kind implements journal.Body.
func (ModelSaved) Kind() string { return KindModelSaved }

// Validate implements journal.Body.
func (b ModelSaved) Validate() error {
	var f fault.Fields
	m := b.Model
	checkCode(&f, m.Code)
	checkName(&f, "name", m.Name, "Give the model's name.")
	if m.Sheet == uuid.Nil {
		f.Add("sheet", "Say which controller type it has.")
	}
	if m.Energy != sheet.Gas && m.Energy != sheet.Electric {
		f.Add("energy", "The energy is gas or electric.")
	}
	if m.Pot != sheet.SinglePot && m.Pot != sheet.SplitPot {
		f.Add("pot", "The pot is single or split.")
	}
	if m.Phases != 0 && m.Phases != 1 && m.Phases != 3 {
		f.Add("phases", "Phases are 1 or 3.")
	}
	m.validateNumbers(&f)
	return f.Err()
}

func (m Model) validateNumbers(f *fault.Fields) {
	limits := []struct {
		field     string
		value     float64
		low, high float64
		message   string
	}{
		{"rated_watts", m.RatedWatts, 0, 200_000, "Give the rated input in watts, up to 200 000."},
		{"oil_kg", m.OilKg, 0, 500, "Give the oil in one vat in kilograms, up to 500."},
		{"rated_volts", m.RatedVolts, 0, 700, "Give the rated voltage in volts, up to 700."},
		{"burners", float64(m.Burners), 0, 50, "Burners go from 0 to 50."},
		{"elements", float64(m.Elements), 0, 50, "Elements go from 0 to 50."},
		{"basket_lifts", float64(m.BasketLifts), 0, 2, "Basket lifts are 0, 1 or 2."},
		{"recovery_from", m.Recovery.FromF, 0, 500, "Give the window in °F, up to 500."},
		{"recovery_limit", m.Recovery.LimitSeconds, 0, 7200, "Give the limit in seconds, up to 7200."},
	}
	for _, l := range limits {
		if !(l.value >= l.low && l.value <= l.high) {
			f.Add(l.field, "%s", l.message)
		}
	}
	// 0 and 0 is a model without a window.
	if from, to := m.Recovery.FromF, m.Recovery.ToF; !(to > from && to <= 500) && (from != 0 || to != 0) {
		f.Add("recovery_to", "The window ends above where it begins, at most at 500 °F.")
	}
}
