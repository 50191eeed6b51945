package confine

import (
	"fmt"
	"strings"

	"example.org/rootward/server/confine/launcher"
)

// ExitRefused is the exit code of a launcher that did not start the plugin; why is
// one line on its standard error.
const ExitRefused = launcher.ExitRefused

// Policy is what a plugin may use. A zero value takes the default.
type Policy = launcher.Policy

// Layer is one of the means of confinement.
type Layer = launcher.Layer

// MissingError says that a plugin is not started because a layer is wanting.
type MissingError struct{ Layers []Layer }

func (e *MissingError) Error() string {
	var wanting []string
	for _, l := range e.Layers {
		wanting = append(wanting, l.String())
	}
	return fmt.Sprintf("cannot be confined here: %s; run the server where the kernel has it (Linux 6.2 or later, Landlock and seccomp on), or allow this plugin by name to run unconfined",
		strings.Join(wanting, ", "))
}

// wanting gives the layers that are not in force.
func wanting(layers []Layer) []Layer {
	var list []Layer
	for _, l := range layers {
		if !l.InForce {
			list = append(list, l)
		}
	}
	return list
}
