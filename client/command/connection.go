package command

import (
	"errors"

	"example.org/rootward/client"
	"example.org/rootward/client/daemon"
)

// Connection says which server answers.
type Connection struct {
	Server          string   `placeholder:"ADDR" help:"Address of a running server: unix:PATH or HOST:PORT. Plain on a socket and on loopback, TLS otherwise. Default: a private server for this one command."`
	RulesFolder     string   `name:"rules" placeholder:"DIR" help:"Folder of rule sets of the private server. Default: rules beside the server."`
	Rootwardd       string   `placeholder:"PATH" help:"Server program of the private server. Default: rootwardd beside this program, then in PATH."`
	Water           string   `placeholder:"DIR" help:"Folder of water layers of the private server, from which distances to water are computed for rows with a position; see docs/water.md."`
	Data            string   `placeholder:"DIR" help:"Folder in which the private server keeps batches and campaigns."`
	OwnFormulations []string `sep:"none" placeholder:"FILE" help:"Catalogue file of formulations of your own, for the private server."`
}

// Validate refuses what would have no effect.
func (c *Connection) Validate() error {
	if c.Server != "" && (c.RulesFolder != "" || c.Rootwardd != "" || c.Water != "" || c.Data != "" || len(c.OwnFormulations) > 0) {
		return errors.New("--rules, --rootwardd, --water, --data and --own-formulations are for a private server; a running one (--server) has its own")
	}
	return nil
}

// with calls use with a client, and ends the private server, if there is one,
// before it returns.
func (r *run) with(use func(*client.Client) error) (err error) {
	address := r.connection.Server
	if address == "" {
		own, err := daemon.Start(r.ctx, daemon.Options{
			Program: r.connection.Rootwardd, Rules: r.connection.RulesFolder, Formulations: r.connection.OwnFormulations, Water: r.connection.Water, Data: r.connection.Data,
		})
		if err != nil {
			return err
		}
		defer func() {
			if closing := own.Close(); closing != nil {
				err = errors.Join(err, closing)
			}
		}()
		address = own.Address
	}
	c, err := client.Dial(address)
	if err != nil {
		return misuse{err}
	}
	defer c.Close()
	return use(c)
}
