"""One invented job, played by HTTP from the sample media through the real service.

Nothing here reaches into the service: every call is one that curl can make. The story is data beside the
job that it plays (`sample_media/jobs/rw-204/*.story.yaml`); what it shows at the end is read from the
package that it made.
"""
