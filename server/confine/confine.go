package confine

import (
	"fmt"
	"strings"
)

// argv0 is the name under which the program starts itself to confine a plugin.
const argv0 = "rootward-confine"

// ExitRefused is the exit code of a launcher that did not start the plugin; why is
// one line on its standard error.
const ExitRefused = 126

// Policy is what a plugin may use. A zero value takes the default.
type Policy struct {
	// Read names files and folders that it may read and execute besides its own file,
	// by default none. An interpreter needs its own and its libraries.
	Read []string `json:"read,omitempty"`
	// MemoryBytes bounds the memory that it writes to, by default 1 GiB.
	MemoryBytes int64 `json:"memory_bytes,omitempty"`
	// OpenFiles bounds its descriptors, by default 64.
	OpenFiles int `json:"open_files,omitempty"`
	// Threads bounds its threads, by default 256. The kernel keeps it only for a user
	// that is not root; Exceeded tells of it for everyone.
	Threads int `json:"threads,omitempty"`
	// CPUSeconds ends a process that has used so much processor time, by default never:
	// one that is kept running uses it up in the end.
	CPUSeconds int `json:"cpu_seconds,omitempty"`
	// Nice is how far it stands back for other processes, by default 19; at 19 it gets
	// 15 parts of the processor where one that does not gets 1,024 (sched(7), from memory).
	Nice int `json:"nice,omitempty"`
	// AllowMissing starts it even where the kernel lacks a layer, with those it has.
	AllowMissing bool `json:"allow_missing,omitempty"`
}

func (p Policy) withDefaults() Policy {
	if p.MemoryBytes <= 0 {
		p.MemoryBytes = 1 << 30
	}
	for _, n := range []struct {
		value *int
		by    int
	}{{&p.OpenFiles, 64}, {&p.Threads, 256}, {&p.Nice, 19}} {
		if *n.value <= 0 {
			*n.value = n.by
		}
	}
	return p
}

// Layer is one of the means of confinement.
type Layer struct {
	Name    string `json:"name"` // rlimits, landlock or seccomp
	InForce bool   `json:"in_force"`
	Detail  string `json:"detail"` // what of it is in force, or why it is wanting
}

func (l Layer) String() string {
	if l.InForce {
		return fmt.Sprintf("%s (%s)", l.Name, l.Detail)
	}
	return fmt.Sprintf("no %s (%s)", l.Name, l.Detail)
}

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
