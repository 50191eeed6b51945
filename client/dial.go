package client

import (
	"crypto/tls"
	"fmt"
	"net"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/experimental"

	"example.org/rootward/proto/columnar"
	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
)

// Client holds the services of one server. It is safe for concurrent use.
type Client struct {
	Treatment treatmentv1.TreatmentServiceClient
	RuleSets  rulesetv1.RuleSetServiceClient
	Inventory inventoryv1.InventoryServiceClient
	Water     waterv1.WaterServiceClient
	Campaign  campaignv1.CampaignServiceClient
	close     func() error
}

// maxMessage bounds one answer in bytes. A chunk's answer holds up to 65,536 rows
// in columns with the explanations that they share; gRPC's own limit of 4 MiB
// does not hold the largest.
const maxMessage = 64 << 20

// Dial makes a client of the server at "unix:PATH" or "HOST:PORT". The connection
// is plain on a unix socket and to a loopback address; any other is TLS, held
// against the roots that the machine trusts. Nothing is sent before the first
// call. The caller closes the client.
func Dial(address string) (*Client, error) {
	creds, err := credentialsFor(address)
	if err != nil {
		return nil, err
	}
	conn, err := grpc.NewClient(target(address), grpc.WithTransportCredentials(creds),
		experimental.WithBufferPool(columnar.Memory()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxMessage), grpc.ForceCodecV2(columnar.Codec())))
	if err != nil {
		return nil, fmt.Errorf("server address %q: %w", address, err)
	}
	c := New(conn)
	c.close = conn.Close
	return c, nil
}

// New makes a client on a connection that stays the caller's.
func New(conn grpc.ClientConnInterface) *Client {
	return &Client{
		Treatment: treatmentv1.NewTreatmentServiceClient(conn),
		RuleSets:  rulesetv1.NewRuleSetServiceClient(conn),
		Inventory: inventoryv1.NewInventoryServiceClient(conn),
		Water:     waterv1.NewWaterServiceClient(conn),
		Campaign:  campaignv1.NewCampaignServiceClient(conn),
		close:     func() error { return nil },
	}
}

// Close ends the connection that Dial made.
func (c *Client) Close() error { return c.close() }

// target keeps gRPC from looking for a proxy on the way to a host.
func target(address string) string {
	if strings.HasPrefix(address, "unix:") {
		return address
	}
	return "dns:///" + address
}

func credentialsFor(address string) (credentials.TransportCredentials, error) {
	if path, ok := strings.CutPrefix(address, "unix:"); ok {
		if path == "" {
			return nil, fmt.Errorf("server address %q lacks the path of the socket", address)
		}
		return insecure.NewCredentials(), nil
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("server address %q is neither unix:PATH nor HOST:PORT", address)
	}
	if isLoopback(host) {
		return insecure.NewCredentials(), nil
	}
	return credentials.NewTLS(&tls.Config{MinVersion: tls.VersionTLS12}), nil
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
