package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// s3 is a place in storage that speaks the S3 protocol: a bucket, and in it what
// begins with prefix. Of the client it has what is asked of it, each by itself: what
// can be reached from an interface stays in the program with every method, and the
// client has those of all of S3.
type s3 struct {
	exists         func(ctx context.Context, bucket string) (bool, error)
	put            func(ctx context.Context, bucket, name string, from io.Reader, size int64, options minio.PutObjectOptions) (minio.UploadInfo, error)
	get            func(ctx context.Context, bucket, name string, options minio.GetObjectOptions) (*minio.Object, error)
	list           func(ctx context.Context, bucket string, options minio.ListObjectsOptions) <-chan minio.ObjectInfo
	remove         func(ctx context.Context, bucket, name string, options minio.RemoveObjectOptions) error
	bucket, prefix string
}

// A file is sent in parts of so many bytes: at most 10,000 parts make a file.
const s3Part = 64 << 20

// s3Tries is how often the client tries what fails on the way; the next round of
// backups tries again anyway.
const s3Tries = 2

func newS3(place, region, user, secret, sub string) (*s3, error) {
	at, err := url.Parse(place)
	if err != nil || at.Host == "" || at.Scheme != "http" && at.Scheme != "https" {
		return nil, fmt.Errorf("%q is no address of S3 storage, such as https://s3.example.com/mill-backups", place)
	}
	bucket, folder, _ := strings.Cut(strings.Trim(at.Path, "/"), "/")
	if bucket == "" {
		return nil, fmt.Errorf("the address %q names no bucket", place)
	}
	transport, ok := http.DefaultTransport.(*http.Transport)
	if !ok {
		return nil, errors.New("no way to the network")
	}
	transport = transport.Clone()
	transport.ResponseHeaderTimeout = time.Minute
	if region == "" {
		region = "us-east-1" // what storage without regions calls its one
	}
	client, err := minio.New(at.Host, &minio.Options{Creds: credentials.NewStaticV4(user, secret, ""), Secure: at.Scheme == "https", Region: region, BucketLookup: minio.BucketLookupAuto, MaxRetries: s3Tries, Transport: transport})
	if err != nil {
		return nil, fmt.Errorf("the address %q: %w", place, err)
	}
	return &s3{exists: client.BucketExists, put: client.PutObject, get: client.GetObject, list: client.ListObjects, remove: client.RemoveObject, bucket: bucket, prefix: strings.TrimLeft(strings.Trim(folder+"/"+sub, "/")+"/", "/")}, nil
}

// Reach implements [Place].
func (s *s3) Reach(ctx context.Context) error {
	there, err := s.exists(ctx, s.bucket)
	if err == nil && !there {
		err = errors.New("it is not there")
	}
	if err != nil {
		return fmt.Errorf("the bucket %s: %w", s.bucket, err)
	}
	return nil
}

// Put implements [Place]. S3 shows an object only once it is whole.
func (s *s3) Put(ctx context.Context, name string, from io.Reader, size int64) error {
	_, err := s.put(ctx, s.bucket, s.prefix+name, from, size, minio.PutObjectOptions{PartSize: s3Part, ContentType: "application/octet-stream"})
	if err != nil {
		return fmt.Errorf("%s could not be put into the bucket %s: %w", name, s.bucket, err)
	}
	return nil
}

// Open implements [Place].
func (s *s3) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	object, err := s.get(ctx, s.bucket, s.prefix+name, minio.GetObjectOptions{})
	if err == nil {
		_, err = object.Stat()
	}
	if err != nil {
		return nil, fmt.Errorf("%s in the bucket %s: %w", name, s.bucket, err)
	}
	return object, nil
}

// List implements [Place].
func (s *s3) List(ctx context.Context) ([]string, error) {
	ctx, cancel := context.WithCancel(ctx) // ends the listing where we stop reading it
	defer cancel()
	var names []string
	for object := range s.list(ctx, s.bucket, minio.ListObjectsOptions{Prefix: s.prefix}) {
		if object.Err != nil {
			return nil, fmt.Errorf("the bucket %s: %w", s.bucket, object.Err)
		}
		if name := strings.TrimPrefix(object.Key, s.prefix); name != "" && !strings.Contains(name, "/") {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, ctx.Err()
}

// Remove implements [Place].
func (s *s3) Remove(ctx context.Context, name string) error {
	return s.remove(ctx, s.bucket, s.prefix+name, minio.RemoveObjectOptions{})
}

// folders are the names of what lies deeper, one step down.
func (s *s3) folders(ctx context.Context) ([]string, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var names []string
	for object := range s.list(ctx, s.bucket, minio.ListObjectsOptions{Prefix: s.prefix}) {
		if object.Err != nil {
			return nil, fmt.Errorf("the bucket %s: %w", s.bucket, object.Err)
		}
		if name, ok := strings.CutSuffix(strings.TrimPrefix(object.Key, s.prefix), "/"); ok && name != "" {
			names = append(names, name)
		}
	}
	return names, nil
}
