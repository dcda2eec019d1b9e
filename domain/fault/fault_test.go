package fault_test

import (
	"errors"
	"fmt"
	"io"
	"testing"

	"frywright/domain/fault"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestKinds(t *testing.T) {
	for name, tt := range map[string]struct {
		err     error
		kind    fault.Kind
		message string
	}{
		"none":                  {nil, fault.Internal, ""},
		"a foreign error":       {io.ErrUnexpectedEOF, fault.Internal, ""},
		"ours":                  {fault.New(fault.NotFound, "There is no fryer %s.", "T-1"), fault.NotFound, "There is no fryer T-1."},
		"wrapped by others":     {fmt.Errorf("load: %w", fault.New(fault.Denied, "Not yours.")), fault.Denied, "Not yours."},
		"around a cause":        {fault.Wrap(io.EOF, fault.Unavailable, "Try again."), fault.Unavailable, "Try again."},
		"internal, with a text": {fault.Wrap(io.EOF, fault.Internal, "table fryer is locked"), fault.Internal, ""},
		"joined":                {errors.Join(io.EOF, fault.New(fault.Conflict, "Changed meanwhile.")), fault.Conflict, "Changed meanwhile."},
		"the outermost counts":  {fault.Wrap(fault.New(fault.NotFound, "No layer."), fault.Invalid, "No standard."), fault.Invalid, "No standard."},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, tt.kind, fault.KindOf(tt.err))
			assert.Equal(t, tt.message, fault.MessageOf(tt.err), "an internal failure shows nothing")
		})
	}
}

func TestTheLogGetsTheWholeText(t *testing.T) {
	err := fault.Wrap(io.EOF, fault.Unavailable, "Try again.")
	assert.Equal(t, "Try again.; EOF", err.Error())
	require.ErrorIs(t, err, io.EOF)
	assert.Equal(t, "name: Give a name.; EOF", (&fault.Error{Fields: []fault.Field{{Name: "name", Message: "Give a name."}}, Cause: io.EOF}).Error())
	assert.Equal(t, "100% sure", fault.New(fault.Invalid, "100%% sure").Message)
}

func TestFields(t *testing.T) {
	var f fault.Fields
	assert.NoError(t, f.Err(), "no complaint is no error, not an empty one")
	f.Need("name", "x", "Give a name.")
	assert.NoError(t, f.Err())

	f.Need("name", " \t", "Give a name.")
	err := f.Err()
	assert.Equal(t, fault.Invalid, fault.KindOf(err))
	assert.Equal(t, "Please mend the marked field.", fault.MessageOf(err))

	f.Add("code", "“%s” is taken.", "A1")
	err = fmt.Errorf("record: %w", f.Err())
	assert.Equal(t, "Please mend the 2 marked fields.", fault.MessageOf(err))
	assert.Equal(t, []fault.Field{{Name: "name", Message: "Give a name."}, {Name: "code", Message: "“A1” is taken."}}, fault.FieldsOf(err))
	assert.Nil(t, fault.FieldsOf(io.EOF))
	assert.Nil(t, fault.FieldsOf(nil))
}
