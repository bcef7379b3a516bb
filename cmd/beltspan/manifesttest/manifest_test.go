// Package manifesttest reads kubernetes.yaml as the API of Kubernetes does,
// which needs modules that the program itself does not.
package manifesttest

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	appsv1 "k8s.io/api/apps/v1"
	autoscalingv2 "k8s.io/api/autoscaling/v2"
	corev1 "k8s.io/api/core/v1"
	networkingv1 "k8s.io/api/networking/v1"
	policyv1 "k8s.io/api/policy/v1"
	"k8s.io/apimachinery/pkg/runtime"
	"k8s.io/apimachinery/pkg/runtime/serializer/json"
)

// decode reads one document strictly: a kind, a field or a type of value that
// the published API does not have is an error, and so is a field given twice.
func decode(t *testing.T, document []byte) (runtime.Object, error) {
	t.Helper()
	scheme := runtime.NewScheme()
	for _, add := range []func(*runtime.Scheme) error{
		corev1.AddToScheme, appsv1.AddToScheme, policyv1.AddToScheme, autoscalingv2.AddToScheme, networkingv1.AddToScheme,
	} {
		require.NoError(t, add(scheme))
	}
	strict := json.NewSerializerWithOptions(json.DefaultMetaFactory, scheme, scheme, json.SerializerOptions{Yaml: true, Strict: true})
	object, _, err := strict.Decode(document, nil, nil)
	return object, err
}

func documents(t *testing.T) [][]byte {
	t.Helper()
	manifest, err := os.ReadFile("../kubernetes.yaml")
	require.NoError(t, err)
	return bytes.Split(manifest, []byte("\n---\n"))
}

// find returns the first object of a type.
func find[T runtime.Object](t *testing.T) T {
	t.Helper()
	for _, document := range documents(t) {
		object, err := decode(t, document)
		require.NoError(t, err, string(document))
		if found, ok := object.(T); ok {
			return found
		}
	}
	require.FailNowf(t, "the manifest lacks an object", "%T", *new(T))
	panic("not reached")
}

func TestStrict(t *testing.T) {
	for _, document := range documents(t) {
		_, err := decode(t, document)
		assert.NoError(t, err, string(document))
	}
}

// TestStrictFindsSlips makes slips that must not pass.
func TestStrictFindsSlips(t *testing.T) {
	slips := []struct{ right, wrong string }{
		{"readOnlyRootFilesystem:", "readOnlyRootFileSystem:"},
		{"startupProbe:", "startUpProbe:"},
		{"runAsUser: 65532", "runAsUser: nobody"},
		{"runAsUser: 65532", "runAsUser: 65532, runAsUser: 65533"},
		{"minAvailable:", "minimumAvailable:"},
		{"autoscaling/v2", "autoscaling/v2beta2"},
		{"kind: PodDisruptionBudget", "kind: DisruptionBudget"},
	}
	for _, slip := range slips {
		made, failed := 0, 0
		for _, document := range documents(t) {
			wrong := bytes.ReplaceAll(document, []byte(slip.right), []byte(slip.wrong))
			if bytes.Equal(wrong, document) {
				continue
			}
			made++
			if _, err := decode(t, wrong); err != nil {
				failed++
			}
		}
		assert.Positive(t, made, "the manifest no longer has %s", slip.right)
		assert.Equal(t, made, failed, slip.wrong)
	}
}

// TestPromises holds the manifest to what README.md says of it. Whom a selector
// selects and which port a name means is not checked by the API's types.
func TestPromises(t *testing.T) {
	deployment := find[*appsv1.Deployment](t)
	labels := deployment.Spec.Template.Labels
	require.NotEmpty(t, labels)
	assert.Equal(t, labels, deployment.Spec.Selector.MatchLabels)
	assert.Nil(t, deployment.Spec.Replicas, "the autoscaler decides")

	headless := find[*corev1.Service](t)
	assert.Equal(t, corev1.ClusterIPNone, headless.Spec.ClusterIP)
	assert.Equal(t, labels, headless.Spec.Selector)

	budget := find[*policyv1.PodDisruptionBudget](t)
	assert.Equal(t, labels, budget.Spec.Selector.MatchLabels)
	scaler := find[*autoscalingv2.HorizontalPodAutoscaler](t)
	assert.Equal(t, deployment.Name, scaler.Spec.ScaleTargetRef.Name)
	assert.Equal(t, deployment.Kind, scaler.Spec.ScaleTargetRef.Kind)
	require.NotNil(t, scaler.Spec.MinReplicas)
	assert.Greater(t, *scaler.Spec.MinReplicas, budget.Spec.MinAvailable.IntVal, "else no node can be drained")
	assert.Equal(t, labels, find[*networkingv1.NetworkPolicy](t).Spec.PodSelector.MatchLabels)
}

func TestPod(t *testing.T) {
	pod := find[*appsv1.Deployment](t).Spec.Template.Spec
	require.Len(t, pod.Containers, 1)
	container := pod.Containers[0]
	assert.True(t, *pod.SecurityContext.RunAsNonRoot)
	assert.Positive(t, *pod.SecurityContext.RunAsUser)
	assert.True(t, *container.SecurityContext.ReadOnlyRootFilesystem)
	assert.False(t, *container.SecurityContext.AllowPrivilegeEscalation)
	assert.Equal(t, []corev1.Capability{"ALL"}, container.SecurityContext.Capabilities.Drop)
	assert.Contains(t, container.Resources.Requests, corev1.ResourceCPU, "the autoscaler measures by it")

	drain := 0
	for _, arg := range container.Args {
		_, _ = fmt.Sscanf(arg, "--drain-timeout=%ds", &drain)
	}
	require.Positive(t, drain)
	assert.Greater(t, *pod.TerminationGracePeriodSeconds, container.Lifecycle.PreStop.Sleep.Seconds+int64(drain),
		"else running calls are cut off")

	ports := map[string]int32{}
	for _, port := range container.Ports {
		ports[port.Name] = port.ContainerPort
	}
	for _, probe := range []*corev1.Probe{container.StartupProbe, container.ReadinessProbe, container.LivenessProbe} {
		require.NotNil(t, probe)
		assert.Equal(t, "/healthz", probe.HTTPGet.Path)
		assert.Contains(t, ports, probe.HTTPGet.Port.StrVal)
	}
	for _, document := range documents(t) {
		if object, err := decode(t, document); assert.NoError(t, err) {
			if service, ok := object.(*corev1.Service); ok {
				assert.Contains(t, ports, service.Spec.Ports[0].TargetPort.StrVal)
			}
		}
	}
}
