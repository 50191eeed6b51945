package hosting_test

import (
	"testing"

	"github.com/hashicorp/go-hclog"
	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules/ruleplugin/hosting"
)

// With another level go-plugin reads each line of a plugin's standard error as a
// log entry, and panics at some.
func TestSilentIsOff(t *testing.T) { assert.Equal(t, hclog.Off, hosting.Silent().GetLevel()) }
