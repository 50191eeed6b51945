// Package launcher is what the program is while it confines a plugin: it takes every
// right away from itself and becomes the plugin.
//
// A program that imports it is a launcher if it is started under the name [Name], before
// the packages are set up that it is otherwise made of, which takes four times as long as
// to confine. Go sets packages up by their paths, each as soon as those that it imports
// are: so this one imports nothing that comes late, as crypto/rand, path/filepath and
// debug/elf do, and TestItIsSetUpBeforeTheRest holds it to that.
package launcher

import "fmt"

// Name is the name under which the program starts itself to confine a plugin.
const Name = "rootward-confine"

// ExitRefused is the exit code of a launcher that did not start the plugin; why is
// one line on its standard error.
const ExitRefused = 126

// PluginFD is where the plugin's file lies in the launcher and in the plugin: after
// the standard streams. It stays open in the plugin, since an interpreter reads its
// program from it.
const PluginFD = 3

// Order is what a launcher is told, as the argument before the plugin's own.
type Order struct {
	Policy
	Sockets string `json:"sockets,omitempty"` // the folder of its socket
	Parent  int    `json:"parent"`            // who starts it
	Probe   bool   `json:"probe,omitempty"`   // see what layers are there, start nothing
	// Wanting names the layers that this machine lacks, and that may fail.
	Wanting []string `json:"wanting,omitempty"`
}

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

// WithDefaults gives the policy with what is not stated.
func (p Policy) WithDefaults() Policy {
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
