package postgres

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
)

// Point is degrees of WGS 84.
type Point struct{ Longitude, Latitude float64 }

// LoadWater loads edges into a table, each a line of its own with a place in the index,
// and points into another.
func LoadWater(ctx context.Context, c *pgx.Conn, edges [][2]Point, points []Point) error {
	if _, err := c.Exec(ctx, `CREATE EXTENSION IF NOT EXISTS postgis;
		DROP TABLE IF EXISTS water, points, edges;
		CREATE UNLOGGED TABLE edges (a float8, b float8, c float8, d float8);
		CREATE UNLOGGED TABLE points (number integer PRIMARY KEY, x float8, y float8, at geography(Point, 4326))`); err != nil {
		return err
	}
	_, err := c.CopyFrom(ctx, pgx.Identifier{"edges"}, strings.Split("a b c d", " "), pgx.CopyFromSlice(len(edges), func(i int) ([]any, error) {
		e := edges[i]
		return []any{e[0].Longitude, e[0].Latitude, e[1].Longitude, e[1].Latitude}, nil
	}))
	if err != nil {
		return err
	}
	_, err = c.CopyFrom(ctx, pgx.Identifier{"points"}, strings.Split("number x y", " "), pgx.CopyFromSlice(len(points), func(i int) ([]any, error) {
		return []any{int32(i), points[i].Longitude, points[i].Latitude}, nil
	}))
	if err != nil {
		return err
	}
	for _, statement := range []string{
		"UPDATE points SET at = ST_SetSRID(ST_MakePoint(x, y), 4326)::geography",
		"CREATE UNLOGGED TABLE water AS SELECT ST_SetSRID(ST_MakeLine(ST_MakePoint(a, b), ST_MakePoint(c, d)), 4326)::geography AS line FROM edges",
		"CREATE INDEX ON water USING gist (line)",
		"VACUUM ANALYZE water",
		"VACUUM ANALYZE points",
	} {
		if _, err := c.Exec(ctx, statement); err != nil {
			return fmt.Errorf("%s: %w", statement, err)
		}
	}
	return nil
}

// Nearest measures from each point to the nearest edge within so many metres, one
// connection a share of the points, and gives how long that took.
func Nearest(ctx context.Context, cluster *Cluster, points, metres, connections int) (time.Duration, error) {
	conns := make([]*pgx.Conn, connections)
	for i := range conns {
		c, err := cluster.Connect(ctx)
		if err != nil {
			return 0, err
		}
		defer c.Close(ctx)
		if _, err := c.Exec(ctx, "SET max_parallel_workers_per_gather = 0"); err != nil {
			return 0, err
		}
		conns[i] = c
	}
	const query = `SELECT number, (SELECT min(ST_Distance(line, at)) FROM water WHERE ST_DWithin(line, at, %d)) FROM points WHERE number >= $1 AND number < $2`
	errs := make([]error, connections)
	var all sync.WaitGroup
	began := time.Now()
	for i, c := range conns {
		all.Go(func() {
			_, errs[i] = timed(ctx, c, fmt.Sprintf(query, metres), points*i/connections, points*(i+1)/connections)
		})
	}
	all.Wait()
	took := time.Since(began)
	for _, err := range errs {
		if err != nil {
			return 0, err
		}
	}
	return took, nil
}

// Distances gives the distance of each point to the nearest edge in metres, -1 where none is
// within reach.
func Distances(ctx context.Context, c *pgx.Conn, metres int) ([]float64, error) {
	rows, err := c.Query(ctx, fmt.Sprintf(`SELECT coalesce((SELECT min(ST_Distance(line, at)) FROM water WHERE ST_DWithin(line, at, %d)), -1) FROM points ORDER BY number`, metres))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[float64])
}
