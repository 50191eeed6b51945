package checks_test

import (
	"os"
	"testing"

	"example.org/rootward/server/confine"
)

func TestMain(m *testing.M) {
	confine.Main()
	os.Exit(m.Run())
}
